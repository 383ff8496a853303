"""A power of ten is not invented against a decimal point or a unit in the text."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn, odd_one
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("9.14", "4.52", "1.21")
REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")


def pressed(form: str, sent: Sequence[str], shown: Sequence[str] = SHOWN) -> list[Press]:
    return [
        Press(f"{form.format(text)}\r\n".encode(), Decimal(value))
        for text, value in zip(sent, shown, strict=True)
    ]


def force(
    form: str, unit: str | None, sent: Sequence[str] = ("9140", "4520", "1210"), word: str = "",
    **limits: Decimal,
) -> Finding:  # fmt: skip
    about = About(Quantity.FORCE, unit=unit, word=word, **limits)
    return learn(pressed(form, sent), about, REGISTRY)


@pytest.mark.parametrize("form", ["V {} GU", "{} GU", "V;{};OK"])
@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        (("91.4", "45.2", "12.1"), SHOWN),
        (("9.14", "4.52", "1.21"), ("91.4", "45.2", "12.1")),
        # Without its last digit it is no number by itself.
        (("91.0", "45.0", "12.0"), ("9.1", "4.5", "1.2")),
        (("91,0", "45,0", "12,0"), ("9.1", "4.5", "1.2")),
        (("91,4", "45,2", "12,1"), SHOWN),
    ],
)
def test_a_number_with_its_own_point_is_no_other_one(
    form: str, sent: Sequence[str], shown: Sequence[str]
) -> None:
    found = learn(pressed(form, sent, shown), GLOSS, REGISTRY)
    assert (found.outcome, found.profile) == (Outcome.NONE, "")
    assert f"{sent[0]} was sent where {shown[0]} was shown" in found.believed[0]
    assert "typed as the display shows them" in found.next_step


def test_digits_without_a_point_may_leave_it_out() -> None:
    found = learn(pressed("V {} GU", ("914", "452", "121")), GLOSS, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    ((reading,),) = readings(found.family, found.profile, [b"V 777 GU\r\n"], REGISTRY)
    assert reading.value == Decimal("7.77")


@pytest.mark.parametrize("form", ["{}", "A0001,{}", "{},0000", "A01,{},00", "A0001,{};OK"])
def test_a_comma_that_parts_fields_is_no_point(form: str) -> None:
    found = learn(pressed(form, ("914", "452", "121")), GLOSS, REGISTRY)
    assert found.outcome is (Outcome.NONE if form == "{},0000" else Outcome.SURE), found.believed
    if found.profile:
        line = f"{form.format('777')}\r\n".encode()
        ((reading,),) = readings(found.family, found.profile, [line], REGISTRY)
        assert reading.value == Decimal("7.77")


@pytest.mark.parametrize(
    ("form", "sent", "unit", "wanted"),
    [
        ("F {} mN", ("9140", "4520", "1210"), "newton", "5000 millinewton"),
        ("F {} mN", ("9140.0", "4520.0", "1210.0"), "newton", "5000.0 millinewton"),
        ("F {} N", ("9140", "4520", "1210"), "kilonewton", "5000 newton"),
        ("F {} g", ("9140", "4520", "1210"), "kilogram_force", "5000 gram_force"),
        ("F {} ozf", ("146.24", "72.32", "19.36"), "pound_force", "80.00 ounce_force"),
        ("{} N", ("0.00914", "0.00452", "0.00121"), "millinewton", "0.00500 newton"),
    ],
)
def test_what_another_unit_explains_is_read_in_the_unit_that_is_sent(
    form: str, sent: Sequence[str], unit: str, wanted: str
) -> None:
    found = force(form, unit, sent, most=Decimal(20))
    assert found.outcome is Outcome.SURE, (found.believed, found.against)
    number, name = wanted.split()
    line = f"{form.format(number)}\r\n".encode()
    ((reading,),) = readings(found.family, found.profile, [line], REGISTRY)
    assert f"{reading.value} {reading.unit}" == wanted
    assert any(f"the display shows {unit} and {name} is sent" in words for words in found.believed)
    # What was said of the display is converted as well.
    beyond = form.format(Decimal(number) * 5)
    assert readings(found.family, found.profile, [f"{beyond}\r\n".encode()], REGISTRY) == [[]]


def test_a_number_to_tell_is_asked_for_as_the_display_shows_it() -> None:
    found = force("F {} mN", "newton")
    assert found.tell_above is not None
    assert Decimal("91.4") < found.tell_above < Decimal(92)


def test_the_unit_that_is_sent_is_not_advised_where_that_makes_it_wrong() -> None:
    found = force("F {} mN", "millinewton")
    assert (found.outcome, found.profile) == (Outcome.NONE, "")
    assert found.against is not None
    assert "9140, where 9.14 was shown: that is 9.14 newton" in found.against.sent
    assert "name --unit newton if the display shows that" in found.next_step
    # As advised where the decimal point is not sent.
    assert "--unit mN=millinewton" in found.next_step
    said = force("F {} mN", "millinewton", word="mN")
    assert said.outcome is Outcome.SURE, said.believed
    ((reading,),) = readings(said.family, said.profile, [b"F 4520 mN\r\n"], REGISTRY)
    assert f"{reading.value:f} {reading.unit}" == "4.52 millinewton"


def test_what_no_factor_explains_is_refused_without_a_unit_that_makes_it_wrong() -> None:
    found = force("F {} mN", "gram_force")
    assert found.profile == ""
    assert found.against is not None
    assert "name --unit millinewton if the display shows that" in found.against.next_step


@pytest.mark.parametrize(("word", "other"), [("N", "kilonewton"), ("mN", "newton")])
def test_a_unit_that_may_not_be_that_of_the_display_is_asked_about_and_named(
    word: str, other: str
) -> None:
    found = force(f"F {{}} {word}", None)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "unit", word)
    assert any(f"that is 9.14 {other}" in words for words in found.believed)


def test_a_mistyped_number_is_told_in_the_unit_of_the_display() -> None:
    sent = ("9140", "4520", "1210", "7770")
    made = pressed("F {} mN", sent, ("9.14", "4.52", "1.21", "7.17"))
    odd = odd_one(made, About(Quantity.FORCE, unit="newton"), REGISTRY)
    assert odd is not None
    assert (odd.place, odd.says) == (3, Decimal("7.77"))
