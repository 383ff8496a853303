"""A line that lost one byte on the way is never a reading of another value or unit.

Held for every shipped profile of lines without a checksum: lines of the captures, the examples, and
lines that the pages allow. What a count lost is told by the count of the next line, and a line that
lost its terminator ends with the next one.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from acquire.model import Instant, Reading, Samples
from acquire.schema import load_toml
from acquire.settings import config_dir
from drivers.line.family import driver_of, load
from tests.captures import EVERY

AT = Instant(10**15, 10**15)
FOLDERS = (config_dir() / "profiles", config_dir() / "demo" / "profiles")
DECIMALS = {"N": 3, "gf": 1, "kgf": 4, "lbf": 4, "ozf": 4}


def _bare() -> dict[str, dict[str, Any]]:
    tables = {path.stem: load_toml(path) for folder in FOLDERS for path in folder.glob("*.toml")}
    return {
        name: table
        for name, table in sorted(tables.items())
        if "text" in table and "checksum" not in table
    }


BARE = _bare()
PROFILES = {name: load(table, name) for name, table in BARE.items()}


def allowed(name: str) -> Iterator[bytes]:
    """Lines by drivers/line/WIRE.md, of every width that its fields can have."""
    figures = ("0.0001", "1.25", "27.5", "127.5", "999.9999", "1275.1", "4000.0")
    if name == "force-peak":
        for unit, places in DECIMALS.items():
            for figure in figures:
                for sign in "+-":
                    value = f"{sign}{Decimal(figure):.{places}f}"
                    if len(value) <= 9:
                        yield f"P042 {value:>9} {unit}".encode()
    if name == "gloss-asked":
        for figure in ("0,0", "-0,2", "7,5", "27,5", "127,5", "1127,5", "-12,5"):
            for count in (1, 12, 123456789):
                yield f"{count} 60 {figure:>6} GU".encode()
    if name == "force-stream":
        # A unit of which another one is left when its first letter is lost has no such promise.
        for unit in ("N", "gf", "lbf"):
            yield f"+12.345 {unit}".encode()


def lines(name: str) -> list[bytes]:
    table = BARE[name]
    end = table["text"]["terminator"].encode()
    found = [line for one in EVERY if one.profile == name for line in one.received.split(end)]
    found += [message["example"].encode() for message in table["message"]]
    return list(dict.fromkeys([*found, *allowed(name)]))


def meant(name: str, data: bytes) -> set[tuple[str, str]]:
    """Values and units of all readings and samples."""
    driver = driver_of(PROFILES[name])
    driver.opening(Instant(0, 0))
    # Long enough for a name that is awaited.
    later = Instant(AT.utc_ns + 4 * 10**9, AT.mono_ns + 4 * 10**9)
    found: set[tuple[str, str]] = set()
    for fact in [*driver.feed(data, AT), *driver.feed(b"", later)]:
        if isinstance(fact, Reading):
            found.add((str(fact.value), fact.unit))
        elif isinstance(fact, Samples):
            counts = zip(*[iter(fact.counts)] * 4, strict=True)
            found |= {(str(int.from_bytes(one, "little")), fact.unit) for one in counts}
    return found


@pytest.mark.parametrize("name", BARE)
def test_a_line_that_lost_a_byte_is_no_reading_of_another_value(name: str) -> None:
    end = PROFILES[name].terminator
    tried = 0
    for line in lines(name):
        if not (own := meant(name, line + end)):
            continue
        for place in range(len(line) + len(end)):
            sent = line + end
            spoiled = sent[:place] + sent[place + 1 :]
            assert meant(name, spoiled + line + end) <= own, spoiled
            tried += 1
    assert tried > 30


def test_the_profiles_without_a_checksum_are_those_that_are_looked_at() -> None:
    assert {"force-peak", "force-stream", "gloss-asked"} <= set(BARE)
    assert all(Path(f"{folder}").is_dir() for folder in FOLDERS)
