"""A floating-point number finer than the display is learned by its rounding, and read whole."""

from __future__ import annotations

import random
import struct
from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0", "77.9")
REGISTRY = Registry()


def frame(number: int, value: float, form: str = "<f") -> bytes:
    data = bytes((0xA5, 13, number, 0x10)) + struct.pack(form, value) + b"\x17"
    return data + bytes((sum(data) & 0xFF, 0x5A))


def finer(shown: Sequence[str] = SHOWN, seed: int = 1) -> list[float]:
    dice = random.Random(seed)
    return [float(value) + dice.uniform(-0.049, 0.049) for value in shown]


def taught(presses: Sequence[bytes], shown: Sequence[str] = SHOWN) -> Finding:
    made = [Press(data, Decimal(v)) for data, v in zip(presses, shown, strict=True)]
    most = Decimal("199.9")
    return learn(made, About(Quantity.GLOSS, channel="60", least=Decimal(0), most=most), REGISTRY)


@pytest.mark.parametrize("presses", [3, 4])
@pytest.mark.parametrize("form", ["<f", ">f", "<d", ">d"])
def test_it_is_learned_and_read_with_all_its_digits(form: str, presses: int) -> None:
    shown = SHOWN[:presses]
    sent = [frame(7 + i, value, form) for i, value in enumerate(finer(shown))]
    found = taught(sent, shown)
    assert found.outcome is Outcome.SURE, found.believed
    assert any("more digits than the display shows" in words for words in found.believed)
    data = frame(9, 50.4375, form)
    ((reading,),) = readings("frame", found.profile, [data], REGISTRY)
    assert reading.value == Decimal("50.4375")
    assert readings("frame", found.profile, [frame(9, 199.949, form)], REGISTRY)[0]
    assert not readings("frame", found.profile, [frame(9, 199.96, form)], REGISTRY)[0]


def test_a_half_may_be_rounded_either_way() -> None:
    shown = ("91.2", "45.3", "12.2", "77.8")
    sent = [frame(7 + i, v) for i, v in enumerate((91.25, 45.25, 12.25, 77.75))]
    assert taught(sent, shown).outcome is Outcome.SURE


def test_one_number_that_does_not_round_to_what_was_shown_is_no_fit() -> None:
    sent = [frame(7 + i, value) for i, value in enumerate([*finer()[:3], 77.96])]
    assert taught(sent).outcome is Outcome.NONE


def test_numbers_near_zero_tell_nothing() -> None:
    """Most floats round to zero."""
    shown = ("0.0", "0.1", "0.2", "0.9")
    sent = [frame(7 + i, value) for i, value in enumerate(finer(shown))]
    assert taught(sent, shown).outcome is not Outcome.SURE


def test_bytes_at_random_never_fit() -> None:
    dice = random.Random(3)
    for _ in range(60):
        sent = [b"\xa5" + dice.randbytes(14) for _ in SHOWN[:3]]
        assert taught(sent, SHOWN[:3]).outcome is not Outcome.SURE
