"""Layouts with very many explanations are told apart soon, or it says that it gave up."""

from __future__ import annotations

from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn import About, Outcome, Press, learn
from acquire.learn.frames.frames import frames
from acquire.learn.numbers.judge import Judged, judge
from acquire.learn.numbers.limits import of_number
from acquire.learn.numbers.search import numbers
from acquire.model import Quantity

GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60")


def alternating(*shown: str, pairs: int = 30) -> list[Press]:
    """Each number over and over, with a zero behind it."""
    return [Press(b"\xaa" + bytes([int(v), 0]) * pairs + b"\x03", Decimal(v)) for v in shown]


def judged(presses: list[Press], most_tries: int) -> Judged:
    data = [press.data for press in presses]
    shown = [press.shown for press in presses]
    return judge(
        numbers(data, shown),
        data,
        GLOSS.reach(shown),
        shown,
        lambda number: of_number(number, GLOSS, shown, is_proven=False),
        most_tries=most_tries,
    )


def test_hundreds_of_explanations_are_held_against_one_another_by_few_tries() -> None:
    found = judged(alternating("1", "2", "3"), 20_000)
    assert len(found.rivals) > 200
    assert not found.has_given_up


def test_it_gives_up_after_so_many_tries_and_has_the_explanations() -> None:
    found = judged(alternating("1", "2", "3"), 100)
    assert found.has_given_up
    assert found.best is None
    assert len(found.rivals) > 200
    assert found.tell_above is not None


def test_presses_that_another_one_has_to_follow_anyway_are_not_judged() -> None:
    presses = alternating("0", "0", "1")
    binary = frames(presses, GLOSS)
    assert not isinstance(binary, str)
    assert len(binary.judged.rivals) > 50
    assert binary.judged.tell_above is None
    assert learn(presses, GLOSS, Registry()).outcome is Outcome.MORE
