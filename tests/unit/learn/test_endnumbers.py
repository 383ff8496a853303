"""A number of its own at the end of a line, such as another band, is told from a checksum there."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.beside.unexplained import STRANGE_END, STRANGE_NUMBER
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
LIGHT = About(Quantity.TRANSMITTANCE, unit="percent", channel="315-400")
SHOWN = ("31", "84", "45", "12", "60", "93", "27", "71", "55", "38")
OTHER = ("53", "38", "97", "21", "83", "44", "75", "16", "62", "30")
"""In no order that goes with the numbers shown."""


def taught(sent: list[str]) -> Finding:
    pairs = zip(sent, SHOWN, strict=False)
    return learn([Press(f"{b}\r\n".encode(), Decimal(v)) for b, v in pairs], LIGHT, REGISTRY)


def lines(form: str, ends: tuple[str, ...]) -> list[str]:
    return [form.format(v=v, e=end) for v, end in zip(SHOWN, ends, strict=False)]


def read(found: Finding, line: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings("line", found.profile, [f"{line}\r\n".encode()], REGISTRY)
    return [str(reading.value) for reading in here]


@pytest.mark.parametrize(
    "form", ["UV={v} IR={e}", "UV {v} VIS {e}", "UV:{v};IR940:{e}", "UVA{v} NIR{e}", "{v}%,{e}%"]
)
def test_the_name_of_a_band_or_a_percent_sign_says_that_the_last_digits_are_no_checksum(
    form: str,
) -> None:
    found = taught(lines(form, OTHER[:3]))
    assert read(found, form.format(v="29", e="68")) == ["29"]


@pytest.mark.parametrize("form", ["{v},{e}", "{v};{e}", "{v:>4}{e:>4}", "A{v} B{e}"])
@pytest.mark.parametrize("later", ["100", "7"])
def test_digits_that_a_press_has_more_or_fewer_of_are_no_checksum_as_the_advice_says(
    form: str, later: str
) -> None:
    open_ = taught(lines(form, OTHER[:4]))
    assert open_.outcome is Outcome.MORE
    assert open_.believed == (STRANGE_NUMBER.why,)
    assert telling(open_)[-1] == "wanted: a press with fewer or more digits at the end"
    found = taught(lines(form, (*OTHER[:4], later)))
    assert read(found, form.format(v="29", e="68")) == ["29"]


@pytest.mark.parametrize("form", ["{v};{e:02}", "{v} %,{e:03}", "UV={v} C={e:02}", "{v}*{e:02}"])
def test_digits_that_zeros_fill_up_are_asked_about_at_every_press_as_a_checksum_may_be(
    form: str,
) -> None:
    sums = (47, 29, 7, 48, 16, 24, 90, 5, 10, 17)
    for count in range(3, len(SHOWN) + 1):
        sent = [form.format(v=v, e=e) for v, e in zip(SHOWN, sums[:count], strict=False)]
        assert taught(sent).believed == (STRANGE_END.why,)


@pytest.mark.parametrize(
    "sent", ["{v} GU*{e}", "{v}.{e}", "{v}/{e}", "{v} C{e}", "{v},CS={e}", "A{v} crc{e}"]
)
def test_digits_behind_a_sign_of_their_own_or_a_sums_name_are_asked_about_if_they_vary_or_not(
    sent: str,
) -> None:
    ends = ("53", "7", "97", "100", "83")
    for count in (3, 4, 5):
        assert taught(lines(sent, ends)[:count]).outcome is not Outcome.SURE


@pytest.mark.parametrize(
    "sum_", [lambda body: sum(body.encode()) % 100, lambda body: sum(map(int, body[2:4]))]
)
def test_digits_that_are_a_sum_of_their_line_are_asked_about_though_nothing_fills_them_up(
    sum_: Callable[[str], int],
) -> None:
    bodies = [f"P;{shown};" for shown in SHOWN]
    sent = [f"{body}{sum_(body)}" for body in bodies]
    assert len(set(map(len, sent[:3]))) > 1
    for count in range(3, len(sent) + 1):
        assert taught(sent[:count]).believed == (STRANGE_END.why,)


def test_digits_that_are_larger_than_any_share_are_asked_about() -> None:
    ends = ("53", "238", "97", "121", "8", "244")
    for count in range(3, len(ends) + 1):
        assert taught(lines("{v},{e}", ends)[:count]).believed == (STRANGE_END.why,)


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ("{v} GU {n}", "'51' and '40' stood beside the number, and any such one is taken there: it "
         "may be a checksum, which nothing checks"),
        ("{v};ID7{n:02d};OK", "'ID751' and 'ID740' stood beside the number, and any such one is "
         "taken there: nothing checks it"),
    ],
)  # fmt: skip
def test_digits_that_may_be_any_are_told(form: str, words: str) -> None:
    made = [
        Press(f"{form.format(v=v, n=n)}\r\n".encode(), Decimal(v))
        for v, n in (("91.4", 51), ("45.2", 40), ("12.0", 7), ("33.3", 88))
    ]
    found = learn(made, About(Quantity.GLOSS, channel="60"), Registry())
    assert found.outcome is Outcome.SURE
    assert words in found.believed
    assert f"# - {words}" in found.profile
