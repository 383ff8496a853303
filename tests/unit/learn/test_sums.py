"""Digits at the end of a line that nothing explains may be a checksum: none lets them free."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity

GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("91.1", "45.2", "12.0", "33.3", "78.4", "50.9", "64.5")


def taught(send: Callable[[str], str], *shown: str) -> Finding:
    made = [Press(f"{send(value)}\r\n".encode(), Decimal(value)) for value in shown]
    return learn(made, GLOSS, Registry())


def weighed(text: str) -> int:
    """A sum of a kind that is in no table: each byte times its place."""
    return sum(place * byte for place, byte in enumerate(text.encode(), 1))


@pytest.mark.parametrize("presses", [3, 7])
@pytest.mark.parametrize(
    "send",
    [
        lambda v: f"G,{v},U,{weighed(f'G,{v},U') % 1000:03d}",
        lambda v: f"{v} {weighed(v) % 97:02d}",
        lambda v: f"{v} Q{weighed(v) % 97:02d}",
        lambda v: f"<{v};{weighed(v)}>",
        lambda v: f"{v},CS{weighed(v) % 10000:04d}",
    ],
)
def test_digits_at_the_end_that_leap_with_the_number_are_asked_about(
    send: Callable[[str], str], presses: int
) -> None:
    found = taught(send, *SHOWN[:presses])
    assert found.outcome is Outcome.MORE
    assert "may be a checksum" in found.believed[0]
    assert not found.profile


def test_digits_that_differ_beside_the_same_line_are_no_checksum() -> None:
    numbers = iter(("107", "855", "341", "620"))
    found = taught(lambda v: f"{v},{next(numbers)}", "91.1", "45.2", "12.0", "45.2")
    assert found.outcome is Outcome.SURE


def test_a_temperature_or_a_number_that_moves_slowly_is_no_checksum() -> None:
    for texts in (("T107", "T355", "T241"), ("T 107", "T 355", "T 241"), ("3912", "3911", "3908")):
        numbers = iter(texts)
        found = taught(lambda v, numbers=numbers: f"{v},{next(numbers)}", *SHOWN[:3])  # type: ignore[misc]
        assert found.outcome is Outcome.SURE, texts


def test_a_number_that_goes_with_the_one_shown_is_no_checksum_after_six_presses() -> None:
    def raw(value: str) -> str:
        return f"{value},{int(Decimal(value) * 317 / 10) + 40}"

    assert taught(raw, *SHOWN[:3]).outcome is Outcome.MORE
    assert taught(raw, *SHOWN[:6]).outcome is Outcome.SURE


@pytest.mark.parametrize("digits", [4, 5])
@pytest.mark.parametrize("head", ["M", "M{n:03d},"])
def test_a_sum_of_all_bytes_in_decimal_digits_is_one_after_three_presses(
    head: str, digits: int
) -> None:
    def line(number: int, shown: str) -> str:
        body = f"{head.format(n=number)}{shown},GU"
        return f"{body},{sum(body.encode()):0{digits}d}\r\n"

    made = [Press(line(n, v).encode(), Decimal(v)) for n, v in enumerate(SHOWN[:3], 358)]
    found = learn(made, GLOSS, Registry())
    assert found.outcome is Outcome.SURE, found.believed
    assert any("are a sum of it that no profile can name" in words for words in found.believed)
