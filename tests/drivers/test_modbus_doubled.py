"""A gateway that answers twice, or hands on what is another's: told once, and asked no faster."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.link.tape import Tape
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.taped import taped
from acquire.store import StoreReader
from tests.unit.answering import AnsweringForce, LateClock
from tests.unit.tape_bench import OPENED, TapeBench

LASTS_S = 20
POLLS = 10 * LASTS_S
STRAY = bytes.fromhex("0001 0000 0006 ff 04 00000001")


def heard(folder: Path, times: int, before: bytes, sound_after_s: float) -> tuple[Tape, int]:
    bench = TapeBench(folder, "modbus-force")
    clock = LateClock(OPENED, 0, 0)
    gauge = AnsweringForce(clock, LASTS_S, times=times, before=before, sound_after_s=sound_after_s)
    bench.hear(gauge, clock)
    bench.close()
    with StoreReader(bench.store) as reader:
        return taped(reader, 1), gauge.requests


def told(tape: Tape, what: str) -> list[str]:
    return [dict(made.says)["text"] for made in tape.made if made.what == what]


@pytest.mark.parametrize(("times", "before"), [(2, b""), (1, STRAY), (3, STRAY)])
def test_a_result_that_is_never_read_whole_is_asked_for_at_the_pace_of_polling_and_told_once(
    tmp_path: Path, times: int, before: bytes
) -> None:
    tape, requests = heard(tmp_path, times, before, LASTS_S)
    # Two blocks and who is there; without the mend it was ten times as many.
    assert POLLS <= requests <= 3 * POLLS
    assert told(tape, "reading") == []
    troubles = [text for text in told(tape, "notice") if "could not be read" in text]
    assert troubles == [
        "a result could not be read: 3 times in a row something else came between its answers, "
        "or it changed meanwhile"
    ]
    assert played(tape, cast(tape.whose)).comparison().differences == []


def test_a_gateway_that_is_sound_again_is_read_again(tmp_path: Path) -> None:
    tape, _ = heard(tmp_path, 2, b"", 8.0)
    # One result every other second, from the ninth on.
    assert told(tape, "reading") == ["5.25", "6.25", "7.25", "8.25", "9.25", "10.25"]
