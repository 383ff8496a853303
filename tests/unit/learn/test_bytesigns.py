"""A byte of a frame that goes with the sign of its number: one press below zero may be chance."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton", least=Decimal(-50), most=Decimal(50))
PAIRS = [("00", "FF"), ("50", "4E"), ("01", "02"), ("00", "F0")]
ONE_BELOW = ("13.70", "40.57", "18.49", "-22.15", "9.31", "44.12", "30.02")
ONE_ABOVE = ("-13.70", "-40.57", "-18.49", "22.15", "-9.31", "-44.12")


def sent(pair: tuple[str, str], shown: str, form: str) -> bytes:
    steps = int(shown.lstrip("-").replace(".", ""))
    digits = f"{steps:04}" if form == "bcd" else f"{steps:04X}"
    frame = bytes.fromhex(f"AA55{pair[shown[0] == '-']}{digits}")
    return frame + bytes((sum(frame) & 0xFF,))


def taught(pair: tuple[str, str], shown: tuple[str, ...], form: str = "bcd") -> Finding:
    return learn([Press(sent(pair, v, form), Decimal(v)) for v in shown], FORCE, REGISTRY)


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize(("shown", "side"), [(ONE_BELOW, "below"), (ONE_ABOVE, "above")])
def test_it_asks_for_a_second_press_of_the_side_that_had_one(
    pair: tuple[str, str], shown: tuple[str, ...], side: str
) -> None:
    for count in range(4, len(shown) + 1):
        open_ = taught(pair, shown[:count])
        assert open_.outcome is Outcome.MORE
        assert "byte 2" in open_.believed[0]
        assert telling(open_)[-1] == f"wanted: a press that shows another number {side} zero"
        assert open_.tell_below is None  # of a limit of its display there is nothing to ask


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("form", ["bcd", "binary"])
def test_that_press_settles_it(pair: tuple[str, str], form: str) -> None:
    found = taught(pair, (*ONE_BELOW[:4], "-8.42"), form)
    assert found.outcome is Outcome.SURE, found.believed
    fresh = ("-31.07", "31.07")
    read = readings("frame", found.profile, [sent(pair, v, form) for v in fresh], REGISTRY)
    assert [str(one.value) for (one,) in read] == list(fresh)
    other = ("03", "03")
    assert readings("frame", found.profile, [sent(other, "31.07", form)], REGISTRY) == [[]]
