"""Whatever comes over a line, in whatever chunks and with whatever silences, replays the same.

A real session hears it, asks and takes readings in between, and the desk stores it; then the tape
is played. What comes is drawn from pieces of captures, damaged ones among them, floods and noise.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from acquire.link.tape import RECEIVED, SENT, Made, Passed, Tape
from acquire.link.tape_file import read_tape, write_tape
from acquire.model import Instant
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.taped import listed, taped
from acquire.store import StoreReader
from tests.captures import of_layout
from tests.unit.tape_bench import OPENED, TapeBench

TAPES = 8
LAYOUTS = (
    "gloss-press",
    "gloss-asked",
    "force-peak",
    "force-powers",
    "frame-gloss",
    "frame-force",
    "frame-bands",
    "modbus-gloss",
    "modbus-force",
    "modbus-transmission",
    "usbtmc-head",
    "hid-weighing",
)
PUTS_OFF = ("modbus-transmission",)
"""Its driver puts a take off while it waits for an answer; when it was asked is on no tape."""
SILENCES_S = (0.0, 0.0, 0.0, 0.01, 0.3, 2.0, 40.0)


def drawn(draw: random.Random, pieces: list[bytes]) -> tuple[Tape, set[int]]:
    """A line's life, and the places where somebody asks for a reading."""
    passed: list[Passed] = []
    takes: set[int] = set()
    at, received, sent = OPENED, 0, 0
    for _ in range(draw.randrange(5, 40)):
        ns = round(draw.choice(SILENCES_S) * draw.random() * 1e9)
        at = Instant(at.utc_ns + ns, at.mono_ns + ns)
        kind = draw.random()
        if kind < 0.3:
            # The host's time is up: it looks what is due, and is asked for a reading now and then.
            if draw.random() < 0.3:
                takes.add(len(passed))
            passed.append(Passed(SENT, sent, at, b"-"))
            sent += 1
            continue
        data = draw.choice(pieces)
        if kind > 0.9:
            data = draw.choice((data, b"?\r\n")) * draw.randrange(1, 60)
        elif kind > 0.75:
            place = draw.randrange(len(data))
            data = data[:place] + draw.randbytes(draw.randrange(3)) + data[place + 1 :]
        elif kind > 0.6:
            data = data[: draw.randrange(1, len(data) + 1)]
        if data:
            passed.append(Passed(RECEIVED, received, at, data))
            received += len(data)
    return Tape(OPENED, "line", tuple(passed)), takes


@pytest.mark.parametrize("layout", LAYOUTS)
def test_whatever_a_session_heard_replays_the_same(layout: str, tmp_path: Path) -> None:
    draw = random.Random(f"tapes of {layout}")
    pieces = [s.received for one in of_layout(layout) for s in one.capture.steps if s.received]
    bench = TapeBench(tmp_path, layout)
    lives = [drawn(draw, pieces) for _ in range(TAPES)]
    for tape, takes in lives:
        bench.record(tape, set() if layout in PUTS_OFF else takes)
    bench.close()
    facts = 0
    file = tmp_path / "any.tape"
    with StoreReader(bench.store) as reader:
        assert len(listed(reader)) == TAPES
        for number in range(1, TAPES + 1):
            tape = taped(reader, number)
            made: list[Made] = []
            done = played(tape, cast(tape.whose), heard=made.append)
            comparison = done.comparison()
            assert (comparison.differences, comparison.aside, done.failed) == ([], 0, "")
            assert done.strayed == 0
            write_tape(file, tape)
            again: list[Made] = []
            played(read_tape(file), cast(tape.whose), heard=again.append)
            assert again == made
            facts += len(made)
    assert facts > TAPES
