"""A reading made again from its bytes: what the bytes do not tell is not held against it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.driverapi.registry import Registry
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.model import Instant
from acquire.report.proof.again import replayed
from acquire.report.proof.proof import prove
from acquire.report.replay.taped import listed, taped
from acquire.store import StoreReader, StoreWriter
from acquire.store.rows import ConnectionRow, InstrumentRow
from tests.unit.tape_bench import OPENED, TapeBench
from tests.yard import Yard

LATE_S = 1.5
LINES = (
    (2.0, b"I,SH-0417*51\r\n"),
    (9.0, b"R,0001,20,91.4,GU*51\r\n"),
    (LATE_S, b"I,SH-0417*51\r\n"),
)


DAY_NS = 86_400 * 10**9


def moment(days: int) -> Instant:
    return Instant(OPENED.utc_ns + days * DAY_NS, OPENED.mono_ns)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A reading whose meter told its name late."""
    return recorded(TapeBench(tmp_path, "gloss-press"))


def recorded(bench: TapeBench) -> Path:
    """The store of a bench that has heard the lines."""
    passed, at, offset = list[Passed](), OPENED, 0
    for after_s, data in LINES:
        ns = round(after_s * 1e9)
        at = Instant(at.utc_ns + ns, at.mono_ns + ns)
        passed.append(Passed(RECEIVED, offset, at, data))
        offset += len(data)
    bench.record(Tape(OPENED, "late", tuple(passed)), set())
    bench.close()
    return bench.store


def test_a_reading_is_proved_though_a_clock_that_ran_ahead_described_its_instrument(
    tmp_path: Path,
) -> None:
    store = recorded(TapeBench(tmp_path, "gloss-press", moment(2)))
    assert prove(store, 1).holds
    with StoreReader(store) as reader:
        whose = taped(reader, 1).whose
        assert whose is not None
        assert whose.profile == listed(reader)[0].profile == "gloss-press"


def test_a_connection_goes_by_the_profile_that_was_entered_last_whatever_clocks_told(
    tmp_path: Path,
) -> None:
    TapeBench(tmp_path, "gloss-asked", moment(-1)).close()
    TapeBench(tmp_path, "gloss-press", moment(2)).close()
    store = recorded(TapeBench(tmp_path, "gloss-press"))
    TapeBench(tmp_path, "gloss-asked", moment(-2)).close()
    assert prove(store, 1).holds
    with StoreReader(store) as reader:
        (one,) = listed(reader)
        assert one.profile == "gloss-press"


def test_where_starts_are_not_told_apart_the_moments_say_by_which_profile_a_line_was_heard(
    tmp_path: Path,
) -> None:
    whole = tmp_path / "whole"
    whole.mkdir()
    TapeBench(whole, "gloss-asked", moment(-1)).close()
    store = recorded(TapeBench(whole, "gloss-press"))
    TapeBench(whole, "gloss-asked", moment(1)).close()
    # As a package is put together again: by one writer, in one go.
    again = StoreWriter(tmp_path / "again.sqlite")
    with StoreReader(store) as reader:
        rows = [InstrumentRow(*row) for row in reader.rows("SELECT * FROM instrument ORDER BY id")]
        lines = [ConnectionRow(*row) for row in reader.rows("SELECT * FROM connection")]
    again.append([*rows, *lines])
    again.close()
    with StoreReader(tmp_path / "again.sqlite") as reader:
        assert [one.profile for one in listed(reader)] == ["gloss-press"]


def test_whose_a_reading_is_its_bytes_do_not_tell(store: Path) -> None:
    assert prove(store, 1).holds
    with StoreReader(store) as reader:
        row = dict(reader.rows("SELECT * FROM readings")[0])
        assert row["flags"] == "not sure whose"
        again = replayed(reader, 1, Registry(), [(row["raw_start"], row["raw_end"])])
    # As it was recorded before a late name was told so.
    assert again.unlike({**row, "flags": ""}) == []
    assert "flags" in again.unlike({**row, "flags": "repeat"})[0]
    assert "value" in again.unlike({**row, "value": "91.5"})[0]


def test_a_piece_that_had_no_certificate_is_not_said_to_have_one_of_nobody(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    (reading,) = yard.readings("role = 'run'")
    tile, *others = yard.bench.pieces
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=()), *others))
    yard.restart()
    yard.plug("shore")
    yard.check("shore", trap="2.0")
    lines = prove(yard.bench.store, int(str(reading["reading_id"]))).lines
    yard.close()
    assert any(line.startswith("closed by check 2: fail") for line in lines)
    (without,) = [line for line in lines if "has no certificate" in line and "T1" in line[:5]]
    assert without.endswith("enter one in bench.toml")
