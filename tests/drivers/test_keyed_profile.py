"""Every fault of a keyed profile is told, with its place, what was got and what was wanted."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from acquire.driverapi import TypedNeeds
from acquire.driverapi.conformance import violations
from acquire.errors import SettingsError
from drivers.keyed import FAMILY
from tests.captures import profile

GLOSS = profile("keyed-gloss")


def faults(change: dict[str, Any], entry: dict[str, Any] | None = None) -> list[str]:
    table = deepcopy(GLOSS)
    table.update(change)
    table["entry"].update(entry or {})
    with pytest.raises(SettingsError) as caught:
        FAMILY.driver(table, "profile")
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("name", ["keyed-gloss", "keyed-gloss-20", "keyed-force", "keyed-bands"])
def test_a_profile_that_ships_needs_a_person_and_nothing_else(name: str) -> None:
    assert FAMILY.needs(profile(name), name) == TypedNeeds()


def test_it_reaches_nothing_that_can_be_plugged_in() -> None:
    assert FAMILY.reaches == ()


def test_a_channel_is_told_in_exactly_one_way() -> None:
    (none,) = faults({"geometry": {}})
    assert none.startswith("geometry: got nothing, wanted one of default")
    (two,) = faults({"geometry": {"default": 60, "order": [20, 60]}})
    assert two.startswith("geometry: got 'default' and 'order', wanted one of default")


def test_an_order_has_each_channel_once() -> None:
    assert faults({"geometry": {"order": [20, 20]}}) == [
        "geometry.order[1]: got '20', wanted each of them once"
    ]


def test_force_has_no_geometry() -> None:
    assert "geometry: got a table, wanted none: force has no geometry" in faults(
        {"kind": "force"}, {"unit": "newton"}
    )


def test_the_unit_is_one_of_the_kind() -> None:
    assert faults({}, {"unit": "newton"}) == [
        "entry.unit: got 'newton', wanted 'gloss_unit' for gloss"
    ]


def test_a_range_has_two_ends_and_a_step_that_fits() -> None:
    assert faults({}, {"high": -1}) == ["entry.high: got -1, wanted more than low, -1"]
    assert faults({}, {"step": 500})[0].startswith("entry.step: got 500, wanted at most 201")
    assert "a range of at most 1000000000 steps" in faults({}, {"step": 1e-9})[0]
    assert faults({}, {"step": 0})[0].startswith("entry.step: got 0")


@pytest.mark.parametrize("token", ["OL 1", "off", "Adjusted", ""])
def test_a_token_for_out_of_range_can_be_mistaken_for_nothing_else(token: str) -> None:
    assert faults({}, {"over": [token]})[0].startswith("entry.over[0]")


def test_a_token_means_one_thing() -> None:
    assert faults({}, {"over": ["OL"], "under": ["OL"]}) == [
        "entry.under: got 'OL', wanted a token that is not in over as well"
    ]
    (fault,) = faults({"geometry": {"tokens": {"OL": 20}}})
    assert fault.startswith("geometry.tokens: got 'OL'")


def test_an_unknown_key_is_a_fault() -> None:
    assert "line" in faults({"line": {"baud_rate": 9600}})[0]


@pytest.mark.parametrize("name", ["keyed-gloss-20", "keyed-force", "keyed-bands"])
def test_a_profile_that_ships_beside_that_of_the_captures_conforms_too(name: str) -> None:
    assert violations(FAMILY, profile(name), []) == []
