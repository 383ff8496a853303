"""Texts of a line that differ from press to press and look like no code of a setting at first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity

SHOWN = ("39.2", "56.4", "15.9", "80.1")
REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, "gloss_unit", "60")
FORCE = About(Quantity.FORCE, "newton", most=Decimal(200))
SHARE = About(Quantity.TRANSMITTANCE, "percent", "315-400")


def taught(form: str, codes: Sequence[str], about: About) -> Finding:
    sent = [
        (form.format(v, code, 42 + at), v)
        for at, (v, code) in enumerate(zip(SHOWN, codes, strict=False))
    ]
    made = [Press(f"{line}\r\n".encode(), Decimal(v)) for line, v in sent]
    return learn(made, about, REGISTRY)


@pytest.mark.parametrize(
    ("form", "codes", "about"),
    [
        # One bit for each, in digits.
        ("{0}/{1} GU;-", ("0010", "0001", "0100"), GLOSS),
        ("{1};{0}", ("01", "10", "01"), FORCE),
        # Before the percent sign of the value itself.
        ("{0}/{1} %", ("34", "34", "14"), SHARE),
        ("{0} {1}% 77%", ("34", "14", "14"), SHARE),
        # Beside the count of presses, one by one as it.
        ("{2:04d} {0}/{1} -", ("10", "11", "12"), FORCE),
        ("{0} ; 23.3C ; {2} ; {1}", ("10", "11", "12"), FORCE),
        ("{0};{1}", ("10", "11", "12"), GLOSS),
        # With a digit behind that never changes.
        ("{1} ; {0} ; OK", ("14", "24", "34"), SHARE),
        # In tenths of a degree.
        ("{1};{0} GU", ("600", "200", "850"), GLOSS),
        # Wavelengths.
        ("{1},X1,T19.9,{0} %", ("940", "365", "550"), SHARE),
        # High and low without anything between them.
        ("GEOM:{1};{0}", ("LOW", "HI", "HI"), GLOSS),
        ("M={1};{0}", ("LOW", "HI", "LOW"), GLOSS),
    ],
)
def test_what_may_be_another_setting_at_each_press_is_asked_about(
    form: str, codes: Sequence[str], about: About
) -> None:
    found = taught(form, codes, about)
    assert (found.outcome, found.missing) == (Outcome.UNSAID, "setting"), found
    said = replace(about, settled=len(codes))
    assert taught(form, codes, said).outcome is Outcome.SURE


@pytest.mark.parametrize(
    ("form", "codes", "about"),
    [
        # A charge behind the value with a percent sign of its own.
        ("{0} %;{1}%", ("78", "77", "77"), SHARE),
        ("{0} GU;{1}%", ("78", "77", "77"), GLOSS),
        ("{1},X1,T19.9,{0} %", ("940", "941", "942"), SHARE),
        ("{1},X1,T19.9,{0} %", ("94", "36", "55"), SHARE),
        # A count of presses alone, and one of long use.
        ("{1};{0};OK", ("110", "111", "112"), GLOSS),
        ("{1};{0};OK", ("0042", "0043", "0044"), FORCE),
        # A verdict that some presses pass.
        ("{0};{1}", ("HI", "OK", "LO"), GLOSS),
        ("{0};{1}", ("OK", "OK", "HIGH"), GLOSS),
    ],
)
def test_what_a_sign_a_count_or_a_verdict_says_to_be_another_thing_is_asked_about_by_nobody(
    form: str, codes: Sequence[str], about: About
) -> None:
    assert taught(form, codes, about).missing != "setting"


def test_a_code_right_at_digits_without_a_point_or_before_a_sum_is_asked_about_too() -> None:
    packed = (("14069480\n", "69.48"), ("24031820\n", "31.82"), ("34038200\n", "38.20"))
    summed = (
        ("x59,19 GU\t-*46\r\n", "59.19"), ("y26,14 GU\t-*42\r\n", "26.14"),
        ("z93,19 GU\t-*42\r\n", "93.19"),
    )  # fmt: skip
    for pairs in (packed, summed):
        found = learn([Press(sent.encode(), Decimal(v)) for sent, v in pairs], GLOSS, REGISTRY)
        assert (found.outcome, found.missing) == (Outcome.UNSAID, "setting"), found
        assert "byte 0 was" in found.likely
