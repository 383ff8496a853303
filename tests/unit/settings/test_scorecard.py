"""Scorecard files: the shipped ones, every fault at once, and what each key comes to."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.errors import SettingsError
from acquire.model.scorecard import Base, Change, Judged, Lasting, Way
from acquire.settings.scorecard import load_scorecard, parse_scorecard
from acquire.settings.shipped import config_dir

HEAD = """[scorecard]
id = "yard"
version = 2
title = "Yard"
"""
GLOSS = """
[[change]]
id = "gloss"
title = "Gloss"
quantity = "gloss"
geometry = 20
direction = "up"
points = 2.5
"""


def faults(text: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        parse_scorecard(text, "card.toml")
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("name", ["yard", "films"])
def test_the_shipped_scorecards_are_sound(name: str) -> None:
    found = load_scorecard(config_dir() / "scorecards" / f"{name}.toml")
    assert found.id == name
    assert found.items


def test_the_example_has_every_kind_of_item() -> None:
    items = load_scorecard(config_dir() / "scorecards" / "yard.toml").items
    assert {type(item.earns) for item in items} == {Change, Lasting, Judged}


def test_what_is_left_out_has_its_default() -> None:
    found = parse_scorecard(HEAD + GLOSS, "card.toml")
    (item,) = found.items
    assert isinstance(item.earns, Change)
    assert (item.earns.base, item.earns.way, item.earns.unit) == (Base.BOTH, Way.UP, "gloss_unit")
    assert (item.earns.points, item.weight, item.floor) == (Decimal("2.5"), Decimal(1), None)
    assert (found.name, found.decimals) == ("yard, version 2", 1)


def test_every_fault_is_told_at_once_with_its_place() -> None:
    text = """[scorecard]
id = "a b"
version = 0
title = ""
[[change]]
id = "x"
title = "t"
quantity = "gloss"
geometry = [20, 60]
direction = "sideways"
points = -1
unit = "newton"
floor = 3
ceiling = 3
stage = "cured"
washes = 5
[[life]]
id = "x"
title = "t"
points_per_wash = 1
[[rating]]
id = "r"
title = "t"
scale = "s"
points = [1, 0]
"""
    assert [line.split(":")[0] for line in faults(text)] == [
        "scorecard.id", "scorecard.version", "scorecard.title", "change[0].geometry",
        "change[0].direction", "change[0].points", "change[0].unit", "change[0].floor",
        "change[0].washes", "life[0].id", "life[0].scale", "rating[0].points[1]",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ('coefficient = "static"', "coefficient: got with quantity gloss"),
        ('base = "blank"', "base: got 'blank', wanted"),
        ('unit = "newton"', "unit: got 'newton', wanted a unit of gloss: gloss_unit"),
        ("weight = 0", "weight: got 0"),
        ("colour = 3", "colour: got an unknown key"),
    ],
)
def test_a_wrong_key_of_a_change_is_told(more: str, told: str) -> None:
    assert any(told in line for line in faults(HEAD + GLOSS + more))


def test_a_film_is_held_against_its_blank_and_nothing_else() -> None:
    text = GLOSS.replace('"gloss"\ngeometry = 20', '"transmittance"\nband = "315-400"')
    assert parse_scorecard(HEAD + text, "card.toml").items[0].floor is None
    (told,) = faults(HEAD + text + 'base = "bare"')
    assert "a film is its slide over the blank" in told
    (told,) = faults(HEAD + text + 'unit = "one"')
    assert "percent" in told


def test_a_coefficient_is_a_pure_number() -> None:
    text = GLOSS.replace('"gloss"\ngeometry = 20', '"force"\ncoefficient = "static"')
    earns = parse_scorecard(HEAD + text, "card.toml").items[0].earns
    assert isinstance(earns, Change)
    assert earns.unit == "one"
    assert any("kinetic" in told for told in faults(HEAD + text.replace("static", "sticky")))


def test_a_scorecard_without_items_earns_nothing() -> None:
    (told,) = faults(HEAD)
    assert "at least one [[change]], [[life]] or [[rating]]" in told


def test_a_life_goes_by_a_measure_or_by_a_scale() -> None:
    life = '\n[[life]]\nid = "l"\ntitle = "L"\npoints_per_wash = 0.2\n'
    assert parse_scorecard(HEAD + life + 'scale = "water"', "c").items[0].earns == Lasting(
        None, "water", Decimal("0.2")
    )
    assert any("both" in f for f in faults(HEAD + life + 'scale = "w"\nquantity = "force"'))
    assert any("a scale has none" in f for f in faults(HEAD + life + 'scale = "w"\ngeometry = 20'))
