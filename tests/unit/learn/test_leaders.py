"""Points that lead from a name to its number, and fill it up; and digits of another base."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity
from tests.unit.learn.test_fill import GLOSS, REGISTRY, SHOWN, read

FORMS = (
    "Gloss{v:.>8}", "Gloss 60{v:.>8} GU", "Gloss ...... {v:>5}", "60{v:.>9} GU",
    "Gloss{v:.>8} GU  T{t:.>6}", "T{t:.>6} Gloss{v:.>8} GU", "Gloss{v:.>8}\r\nT{t:.>6}",
)  # fmt: skip


def taught(form: str) -> Finding:
    beside = ("21.7", "21.2", "21.9", "22.4")
    presses = [
        Press(f"{form.format(v=v, t=t)}\r\n".encode(), Decimal(v))
        for v, t in zip(SHOWN, beside, strict=True)
    ]
    return learn(presses, GLOSS, REGISTRY)


@pytest.mark.parametrize("form", FORMS)
def test_a_number_behind_points_is_read_with_fewer_and_more_digits(form: str) -> None:
    found = taught(form)
    lines = [form.format(v=v, t=t) for v, t in (("33.0", "9.4"), ("9.4", "23.1"), ("100.3", "8.0"))]
    assert read(found, *lines) == ["33.0", "9.4", "100.3"]


def test_where_points_fill_up_a_number_a_shorter_line_has_lost_a_digit() -> None:
    shown = ("91.9", "5.2", "12.0")
    lines = [f"Gloss{v:.>8} GU\r\n".encode() for v in (*shown, "33.0")]
    presses = [Press(line, Decimal(v)) for line, v in zip(lines, shown, strict=False)]
    found = learn(presses, GLOSS, REGISTRY)
    assert read(found, "Gloss....33.0 GU", "Gloss....3.0 GU") == ["33.0", None]


@pytest.mark.parametrize("form", ["{:04X}", "N{:X}", "H{:08X} N", "{:04x} N"])
def test_hexadecimal_digits_are_told_as_such_and_as_no_power_of_ten(form: str) -> None:
    numbers = (1000, 998, 0x3E5, 0x2E7)
    presses = [Press(f"{form.format(n)}\r\n".encode(), Decimal(n) / 10) for n in numbers]
    refused = learn(presses, About(Quantity.FORCE, unit="newton"), REGISTRY)
    assert refused.outcome is Outcome.NONE
    told = " ".join(refused.believed)
    assert "the number stands there in hexadecimal digits" in told
    assert "power of ten" not in told
