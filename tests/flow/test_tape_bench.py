"""The bench of the pytest fixture on which a tape is played gives the readings of the day."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.driverapi import LinkNeeds
from acquire.driverapi.registry import Registry
from acquire.errors import DriverError
from acquire.link.tape import Tape
from acquire.link.tape_file import write_tape
from acquire.report.replay.taped import taped
from acquire.store import StoreReader
from acquire.testkit.held_bench import NothingCame
from acquire.testkit.tape_bench import PacedTape, TapeBench
from acquire.testkit.taped_driver import TapedFamily
from tests.captures import EVERY, profile
from tests.unit.answering import late_tape
from tests.unit.tape_bench import OPENED, record

# What a session sends over TCP is other than in a capture: that is looked at by itself.
ASIDE = ("climate", "counter", "modbus-force")
READ = {
    one.profile: one
    for one in reversed(EVERY)
    if any(fact.what == "reading" for fact in one.capture.facts)
    and not any(word in one.profile for word in ASIDE)
}


def shown(tape: Tape) -> list[str]:
    """What the readings of the day said."""
    return [dict(made.says)["text"] for made in tape.made if made.what == "reading"]


def read(bench: TapeBench) -> list[str]:
    return [row["sent_text"] for row in bench.readings()]


def bench_of(folder: Path, tape: Tape) -> TapeBench:
    file = folder / "meter.tape"
    write_tape(file, tape)
    room = folder / "room"
    room.mkdir()
    return TapeBench(file, room)


@pytest.mark.parametrize(("every", "late_s"), [(0, 0.0), (10, 0.0004), (10, 0.06), (37, 0.3)])
def test_what_was_asked_over_modbus_tcp_is_read_again_whenever_it_was_asked(
    tmp_path: Path, every: int, late_s: float
) -> None:
    tape = late_tape(tmp_path, every, late_s, for_s=12.0)
    assert len(shown(tape)) > 3
    with bench_of(tmp_path, tape) as bench:
        bench.play()
        assert read(bench) == shown(tape)


def test_a_test_may_look_in_between_at_any_moment(tmp_path: Path) -> None:
    tape = late_tape(tmp_path, 10, 0.06, for_s=12.0)
    with bench_of(tmp_path, tape) as bench:
        for _ in range(130):
            bench.advance(0.097)
        assert read(bench) == shown(tape)


@pytest.mark.parametrize("layout", sorted(READ))
def test_a_tape_of_every_wire_is_read_as_it_was_that_day(layout: str, tmp_path: Path) -> None:
    one = READ[layout]
    with StoreReader(record(tmp_path, one).with_name("bench.sqlite")) as reader:
        tape = taped(reader, 1)
    with bench_of(tmp_path, tape) as bench:
        bench.play()
        assert read(bench) == shown(tape) != []


def test_a_play_that_gives_none_of_the_readings_says_so(tmp_path: Path) -> None:
    tape = late_tape(tmp_path, 0, 0.0, for_s=12.0)
    assert tape.whose is not None
    # Another unit than the one that answered.
    text = tape.whose.profile_text.replace("unit_address = 255", "unit_address = 1")
    other = tape._replace(whose=tape.whose._replace(profile_text=text))
    with (
        bench_of(tmp_path, other) as bench,
        pytest.raises(NothingCame, match=r"has \d+ readings, and its play gave none.*coatbench"),
    ):
        bench.play()


@pytest.mark.parametrize(
    ("driver", "before", "after", "why"),
    [
        ("keel", "", "", "there is no driver 'keel': wanted "),
        ("line", "[line]", "[lines]", "profile of-the-tape has"),
    ],
)
def test_a_tape_without_a_driver_for_it_is_told_at_once(
    tmp_path: Path, driver: str, before: str, after: str, why: str
) -> None:
    with StoreReader(record(tmp_path, READ["gloss-press"]).with_name("bench.sqlite")) as reader:
        tape = taped(reader, 1)
    assert tape.whose is not None
    text = tape.whose.profile_text.replace(before, after)
    other = tape._replace(whose=tape.whose._replace(driver=driver, profile_text=text))
    with pytest.raises(DriverError, match=f"cannot be played: .*{why}"):
        bench_of(tmp_path, other)


def test_a_device_that_streams_is_not_waited_for_by_the_computers_clock() -> None:
    family = Registry().family("line")
    streams = profile("force-stream")
    then = family.needs(streams, "p")
    assert isinstance(then, LinkNeeds)
    assert then.gather_s > 0
    taped_family = TapedFamily(family, PacedTape(Tape(OPENED, "a stream", ())))
    now = taped_family.needs(streams, "p")
    assert isinstance(now, LinkNeeds)
    assert now.gather_s == 0
    assert (now.baud_rate, now.parity) == (then.baud_rate, then.parity)
