"""A word in quotes under the name "unit", as in objects of JSON (RFC 8259), is the unit."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, evident_kind, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
SHOWN = ("41.2", "77.1", "12.9", "50.3")
CHANNELS = {Quantity.GLOSS: "60", Quantity.TRANSMITTANCE: "380-780"}
WORDS = [
    ("GU", Quantity.GLOSS, "gloss_unit"), ("N", Quantity.FORCE, "newton"),
    ("kgf", Quantity.FORCE, "kilogram_force"), ("%", Quantity.TRANSMITTANCE, "percent"),
]  # fmt: skip


def presses(form: str, shown: tuple[str, ...] = SHOWN) -> list[Press]:
    sent = [form.replace("@n", str(n)).replace("@v", v) for n, v in enumerate(shown, 4)]
    return [Press(f"{b}\r\n".encode(), Decimal(v)) for b, v in zip(sent, shown, strict=True)]


def taught(form: str, kind: Quantity) -> Finding:
    return learn(presses(form), About(kind, channel=CHANNELS.get(kind)), REGISTRY)


@pytest.mark.parametrize("form", ['{"n":@n,"value":@v,"unit":"@u"}', '{"Units": "@u", "v": @v}'])
@pytest.mark.parametrize(("word", "kind", "unit"), WORDS)
def test_the_word_named_unit_tells_unit_and_kind_of_the_meter(
    form: str, word: str, kind: Quantity, unit: str
) -> None:
    form = form.replace("@u", word)
    assert evident_kind(presses(form)) is kind
    found = taught(form, kind)
    assert found.outcome is Outcome.SURE, found.believed
    assert f'"{word}" = "{unit}"' in found.profile
    later = [form.replace("@n", "9").replace("@v", "33.3"), form.replace("@v", "ERR")]
    good, failed = readings("line", found.profile, [f"{b}\r\n".encode() for b in later], REGISTRY)
    assert [(reading.value, reading.unit) for reading in good] == [(Decimal("33.3"), unit)]
    assert not failed


def test_a_word_named_unit_that_nobody_knows_is_asked_about_and_not_its_name() -> None:
    found = taught('{"value":@v,"unit":"Zrq"}', Quantity.GLOSS)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "word", "Zrq")


def test_the_unit_of_another_kind_of_meter_under_that_name_is_refused() -> None:
    found = taught('{"value":@v,"unit":"GU"}', Quantity.FORCE)
    assert found.against is not None
    assert found.against.part == "kind"


@pytest.mark.parametrize(
    "form",
    [
        '{"value":@v,"at":{"load":2,"unit":"N"}}', '{"at":{"load":2,"unit":"N"},"value":@v}',
        '{"value":@v,"unit":"N","also":"kgf"}', '{"value":@v,"unit":"N","unit":"N"}',
    ],
)  # fmt: skip
def test_the_unit_of_another_object_or_beside_a_second_one_is_not_taken(form: str) -> None:
    assert taught(form, Quantity.FORCE).outcome is not Outcome.SURE


@pytest.mark.parametrize("form", ['{"value":@v,"unit":"N/m"}', '{"n":@n,"unit":"N/m","value":@v}'])
def test_a_unit_made_of_another_one_under_that_name_is_refused_and_its_name_not_asked_about(
    form: str,
) -> None:
    found = taught(form, Quantity.FORCE)
    assert found.against is not None
    assert (found.against.part, found.missing) == ("strange", "")
    assert "'N/m', which is none of its units" in found.against.sent


def test_a_unit_with_points_under_that_name_is_no_unit_made_of_another_one() -> None:
    form = '{"unit":"G.U.","value":@v}'
    found = learn(presses(form), About(Quantity.GLOSS, channel="60"), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
