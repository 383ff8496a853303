"""A reading made again from its bytes: what the bytes do not tell is not held against it."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.driverapi.registry import Registry
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.model import Instant
from acquire.report.again import replayed
from acquire.report.proof import prove
from acquire.store import StoreReader
from tests.unit.tape_bench import OPENED, TapeBench

LATE_S = 1.5
LINES = (
    (2.0, b"I,SH-0417*51\r\n"),
    (9.0, b"R,0001,20,91.4,GU*51\r\n"),
    (LATE_S, b"I,SH-0417*51\r\n"),
)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A reading whose meter told its name late."""
    bench = TapeBench(tmp_path, "gloss-press")
    passed, at, offset = list[Passed](), OPENED, 0
    for after_s, data in LINES:
        ns = round(after_s * 1e9)
        at = Instant(at.utc_ns + ns, at.mono_ns + ns)
        passed.append(Passed(RECEIVED, offset, at, data))
        offset += len(data)
    bench.record(Tape(OPENED, "late", tuple(passed)), set())
    bench.close()
    return bench.store


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
