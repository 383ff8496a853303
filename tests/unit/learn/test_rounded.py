"""A floating-point number finer than the display is learned by its rounding, and read whole."""

from __future__ import annotations

import random
import struct
from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
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


def text(form: str, values: Sequence[str], shown: Sequence[str] = SHOWN[:3]) -> Finding:
    return taught([f"{form.format(v)}\r\n".encode() for v in values], shown)


@pytest.mark.parametrize("form", ["{} GU", "R,{:>9},GU", "G={}"])
def test_decimals_in_text_that_the_display_rounds_are_read_with_all_of_them(form: str) -> None:
    found = text(form, ("91.412", "45.150", "12.049"))
    assert found.outcome is Outcome.SURE, found.believed
    assert any("more digits than the display shows" in words for words in found.believed)
    data = f"{form.format('50.437')}\r\n".encode()
    ((reading,),) = readings("line", found.profile, [data], REGISTRY)
    assert reading.value == Decimal("50.437")


def test_two_numbers_that_are_rounded_to_the_same_are_not_told_apart() -> None:
    found = text("{} GU", ("91.412 GU 91.38", "45.150 GU 45.22", "12.049 GU 11.97"))
    assert found.outcome is Outcome.MORE


@pytest.mark.parametrize(
    ("values", "shown"),
    [
        (("91.47", "45.26", "12.08"), SHOWN[:3]),
        (("0.04", "0.13", "0.21"), ("0.0", "0.1", "0.2")),
        (("9141", "4515", "1205"), SHOWN[:3]),
    ],
)
def test_digits_cut_off_or_numbers_near_zero_or_integers_tell_nothing(
    values: Sequence[str], shown: Sequence[str]
) -> None:
    assert text("{} GU", values, shown).outcome is not Outcome.SURE


def test_several_geometries_of_which_one_is_rounded_are_no_crash() -> None:
    found = text("20 {} 60 {} 85 {}".replace("{}", "{0}"), ("91.412", "45.150", "12.049"))
    assert found.outcome is not Outcome.SURE


@pytest.mark.parametrize("place", range(3))
@pytest.mark.parametrize("before", ["", "READY\r\n"], ids=["alone", "behind a heading"])
def test_a_press_that_sent_its_finer_line_twice_is_learned_with_the_others(
    place: int, before: str
) -> None:
    sent = [f"{v} GU\r\n" for v in ("82.46", "52.40", "11.67")]
    sent[place] *= 2
    presses = [f"{before}{text}".encode() for text in sent]
    found = taught(presses, ("82.5", "52.4", "11.7"))
    if before:
        assert "presses had 2 to 3 lines" in found.believed[0]
        return
    assert found.outcome is Outcome.SURE
    ((reading,),) = readings("line", found.profile, [b"33.37 GU\r\n"], REGISTRY)
    assert reading.value == Decimal("33.37")


def test_a_finer_number_in_another_line_of_each_press_is_no_fault() -> None:
    lines = ("82.46 GU", "52.40 GU", "11.67 GU")
    orders = ("{0}\r\nOK\r\n", "OK\r\n{0}\r\n", "OK\r\nOK\r\n{0}\r\n")
    sent = [form.format(line).encode() for form, line in zip(orders, lines, strict=True)]
    assert taught(sent, ("82.5", "52.4", "11.7")).outcome is Outcome.MORE
