"""Text that nothing ends, that pauses, or that is not all ASCII: told as what it is, and learned
where a profile can read it."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.errors import Misuse
from acquire.learn import LINES, About, Finding, Line, Looks, Outcome, Press, hear, learn
from acquire.model import Quantity
from tests.unit.learn.test_person import Bench, lesson
from tests.unit.uart import heard

LINE = Line(9600)
SHOWN = [Decimal(text) for text in ("4.1900", "1.2300", "2.7100")]
NEWTON = Given(Quantity.FORCE, unit="newton", most=Decimal("9.9999"), least=Decimal(0))


def sent(form: str) -> list[bytes]:
    return [form.format(value).encode("latin-1") for value in SHOWN]


def of_port(bench: Bench, given: Given | None = None) -> Finding:
    shown = list(SHOWN)
    alone = Lesson(given or Given(), None, Registry(), bench.tell)
    found, _ = alone.of_port(bench.open, bench.clock, shown, 60)
    return found


class Pausing(Bench):
    """One that pauses for so long in the midst of each press."""

    pause_s = 1.2

    def read(self, timeout_s: float) -> bytes:
        if len(self._waiting) % 2 and timeout_s < self.pause_s:
            self.clock.advance(timeout_s)
            return b""
        if len(self._waiting) % 2:
            self.clock.advance(self.pause_s)
        return super().read(timeout_s)


@pytest.mark.parametrize("form", ["<{}|N|156>", "[F {} N]", "{}\xa0N\r\n", "{}\xc2\xa0N\r\n"])
def test_text_between_marks_or_with_a_space_of_its_own_proves_its_speed(form: str) -> None:
    for data in sent(form):
        for by in LINES:
            found = hear(heard(data, LINE, by), by)
            assert (found.looks is Looks.TEXT) == (by == LINE), by


def test_of_binary_bytes_between_marks_none_look_like_text() -> None:
    dice = random.Random(23)
    for _ in range(2000):
        data = b"<" + dice.randbytes(dice.randint(10, 16)) + b">"
        assert hear(data, LINE).looks is not Looks.TEXT, data


@pytest.mark.parametrize("form", ["<{}|N|156>", "{}\xa0N\r\n"])
def test_such_a_text_is_learned_at_a_port_without_naming_its_speed(form: str) -> None:
    found = of_port(Bench(sent(form), [], LINE), NEWTON)
    assert (found.outcome, found.family) == (Outcome.SURE, "line")


@pytest.mark.parametrize("form", ["={}", "{}N"])
def test_a_text_that_nothing_ends_is_told_and_learned_with_the_speed_that_is_named(
    form: str,
) -> None:
    with pytest.raises(Misuse) as told:
        of_port(Bench(sent(form), [], LINE), NEWTON)
    assert told.value.what == "the meter sent a text that nothing ends, which proves no speed"
    assert "--baud 9600 --format 8N1" in told.value.next_step
    given = Given(Quantity.FORCE, "newton", None, Decimal(0), Decimal("9.9999"), LINE)
    assert of_port(Bench(sent(form), [], LINE), given).outcome is Outcome.SURE


def test_a_person_may_go_on_with_a_text_that_nothing_ends() -> None:
    bench = Bench(sent("={}"), ["y", *map(str, SHOWN), "", "", ""], LINE)
    found, _ = lesson(bench, NEWTON).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert "'=4.1900' at 9600 8N1 is a text that nothing ends" in bench.asked[0]


def test_a_text_with_letters_beyond_ascii_is_not_said_to_be_none() -> None:
    with pytest.raises(Misuse) as told:
        of_port(Bench(sent("h\xf6chst {}\r\n"), [], LINE), NEWTON)
    assert "bytes beyond ASCII" in told.value.what
    assert "with F6" in told.value.got


def test_a_press_that_pauses_before_its_line_ends_is_one_press() -> None:
    found = of_port(Pausing(sent("F {} N\r\n"), [], LINE), NEWTON)
    assert found.outcome is Outcome.SURE
    assert "together_s = 2.4" in found.profile


def test_texts_of_several_lengths_that_nothing_ends_are_told_as_such() -> None:
    presses = [Press(f"={text}".encode(), Decimal(text)) for text in ("4.19", "12.30", "2.71")]
    found = learn(presses, About(Quantity.FORCE, unit="newton"), Registry())
    assert found.outcome is Outcome.NONE
    assert "a text of 5 bytes or 6 that nothing ends" in found.believed[0]
    assert "set the meter to end its lines" in found.next_step
