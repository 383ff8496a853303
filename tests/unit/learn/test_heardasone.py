"""Several presses that were heard as one are said to be so, and no fault of the line."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import Line, Outcome, Press, frames_in, learn
from acquire.learn.lesson.heardasone import heard_as_one
from acquire.model import Quantity
from tests.unit.learn.test_aside import GLOSS, REGISTRY, SIX, Send, bit, frame, frame16
from tests.unit.learn.test_person import Bench


def plain(value: str) -> bytes:
    return b"\xa5\x11" + int(Decimal(value) * 10).to_bytes(2, "big") + b"\x0d"


FORMS = pytest.mark.parametrize("send", [frame, frame16, plain])


@FORMS
@pytest.mark.parametrize("count", [2, 5])
@pytest.mark.parametrize("typed", [0, -1])
def test_frames_of_the_usual_length_in_one_press_are_told_as_several_presses(
    send: Send, count: int, typed: int
) -> None:
    glued = SIX[-count:]
    presses = [Press(send(value), Decimal(value)) for value in ("20.3", "55.1", "70.7", "88.8")]
    presses.insert(2, Press(b"".join(map(send, glued)), Decimal(glued[typed])))
    found = learn(presses, GLOSS, REGISTRY)
    assert found.outcome is Outcome.SURE
    told = found.believed[-1]
    assert told.startswith("press 3 of 5 is left out: ")
    size = len(send("1.0"))
    assert f"{count * size} bytes, which look like {count} presses of {size} bytes" in told
    assert "press once at a time" in told
    assert "heard as one" in found.profile
    assert not any("changed on its way" in words for words in found.believed)


@FORMS
def test_the_very_same_frame_again_is_one_press(send: Send) -> None:
    data = [send(value) for value in SIX]
    assert heard_as_one([*data, 2 * send("20.3")]) == {}
    assert frames_in(2 * send("20.3"), data) == 1


@pytest.mark.parametrize("send", [frame, frame16])
def test_a_frame_among_them_that_does_not_fit_the_checksum_makes_them_no_presses(
    send: Send,
) -> None:
    data = [send(value) for value in SIX]
    glued = send("20.3") + bit(3)(send("30.2"))
    assert heard_as_one([*data, glued]) == {}
    assert heard_as_one([*data, glued[:-1]]) == {}


def test_frames_without_their_marks_are_no_presses() -> None:
    data = [plain(value) for value in SIX]
    assert heard_as_one([*data, plain("20.3") + b"\xff" * 5]) == {}
    assert heard_as_one([plain("20.3"), plain("20.4") + plain("20.5")]) == {}


def test_lines_are_told_apart_by_their_ends() -> None:
    data = [f"{value} GU\r\n".encode() for value in SIX]
    assert heard_as_one([*data, data[0] + data[1]]) == {}


@FORMS
def test_a_person_is_told_at_once_to_press_once_at_a_time_and_may_leave_them_out(
    send: Send,
) -> None:
    shown = ("91.4", "45.2", "12.0")
    presses = [*map(send, shown[:2]), send("60.5") + send("33.3"), send(shown[2])]
    given = Given(
        Quantity.GLOSS, channel="60", line=Line(9600), least=Decimal(0), most=Decimal(200)
    )
    bench = Bench(presses, [*shown[:2], "", shown[2]], Line(9600))
    lesson = Lesson(given, bench, Registry())
    found, _ = lesson.of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert sum("press once at a time" in words for words in bench.told) == 1
    assert "Enter to leave them out" in bench.asked[2]
    assert [taken.shown for taken in lesson.taken] == [
        *map(Decimal, shown[:2]),
        None,
        Decimal(shown[2]),
    ]
