"""Profiles: the shipped ones are sound, and every fault of a bad one is told at once."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from acquire.driverapi import LinkNeeds, Parity
from acquire.driverkit.fields import UNITS
from acquire.units import units_of
from drivers.line import FAMILY
from tests.captures import LAYOUTS, profile
from tests.drivers.faulty import told


def faults_of(table: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return told(FAMILY, table)


@pytest.fixture
def press() -> dict[str, Any]:
    return deepcopy(profile("gloss-press"))


@pytest.fixture
def asked() -> dict[str, Any]:
    return deepcopy(profile("gloss-asked"))


def test_the_shipped_profiles_declare_the_lines_of_their_layouts() -> None:
    assert FAMILY.needs(profile("gloss-press"), "p") == LinkNeeds(9600, 8, Parity.NONE, 1)
    assert FAMILY.needs(profile("gloss-asked"), "a") == LinkNeeds(4800, 7, Parity.EVEN, 1)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_kind_of_line_in_a_shipped_profile_has_an_example(layout: str) -> None:
    assert all("example" in message for message in profile(layout)["message"])


def test_the_units_a_profile_may_name_are_those_the_program_knows() -> None:
    for quantity, names in UNITS.items():
        assert set(names) == set(units_of(quantity))


def test_only_a_message_with_a_value_has_its_width(press: dict[str, Any]) -> None:
    press["message"][1]["width"] = 5
    got, wanted = faults_of(press)["message[1].width"]
    assert (got, wanted) == ("5", "nothing: there is no value in power-up")


def test_all_faults_are_told_at_once(press: dict[str, Any]) -> None:
    press["line"]["baud_rate"] = "fast"
    press["text"]["terminator"] = ""
    press["message"][0]["pattern"] = r"R,(\d+"
    press["message"][1]["means"] = "switched-on"
    press["unit"]["tokens"]["GU"] = "newton"
    press["geometry"]["tokens"]["20"] = 25
    press["colour"] = "red"
    assert set(faults_of(press)) == {
        "line.baud_rate",
        "text.terminator",
        "message[0].pattern",
        "message[1].means",
        "unit.tokens.GU",
        "geometry.tokens.20",
        "colour",
    }


def test_an_example_that_is_not_understood_is_a_fault(press: dict[str, Any]) -> None:
    press["message"][0]["example"] = "R,0001,20,91.4,GU*52"
    press["message"][2]["example"] = "I,SH-0417*51"
    faults = faults_of(press)
    assert "wrong checksum: got '52', wanted '51'" in faults["message[0].example"][0]
    assert "takes as identity" in faults["message[2].example"][0]


def test_groups_must_be_those_of_the_meaning(press: dict[str, Any]) -> None:
    press["message"][0]["pattern"] = r"R,(?P<count>\d+),(?P<code>\d+)"
    press["message"][3]["pattern"] = r"I,\w+"
    found = faults_of(press)
    assert "message[0].pattern" in found
    assert found["message[3].pattern"][1] == "a group (?P<serial>...) in identity"


def test_one_pattern_twice_is_a_fault(press: dict[str, Any]) -> None:
    press["message"][2]["pattern"] = press["message"][1]["pattern"]
    assert "message[2].pattern" in faults_of(press)


def test_a_profile_without_readings_is_a_fault(press: dict[str, Any]) -> None:
    del press["message"][0]
    assert "message" in faults_of(press)


def test_gloss_without_geometry_is_a_fault(press: dict[str, Any]) -> None:
    press["geometry"] = {}
    assert "geometry.tokens" in faults_of(press)


def test_a_reading_without_unit_needs_a_default(asked: dict[str, Any]) -> None:
    del asked["unit"]["default"]
    assert faults_of(asked)["unit.default"] == ("nothing", "a unit for message[1], which has none")


def test_asking_without_a_count_is_a_fault(asked: dict[str, Any]) -> None:
    for message in asked["message"][:2]:
        message["pattern"] = message["pattern"].replace("?P<count>", "?:")
        del message["example"]
    assert "may be an old result" in faults_of(asked)["ask"][1]


def test_a_count_on_some_readings_only_is_a_fault(asked: dict[str, Any]) -> None:
    asked["message"][1]["pattern"] = "(?P<geometry>60) (?P<value>OVER)"
    assert "message[1].pattern" in faults_of(asked)


def test_two_ways_to_tell_presses_apart_are_a_fault(press: dict[str, Any]) -> None:
    from decimal import Decimal

    press["press"]["repeat_window_s"] = Decimal("1.0")
    assert "press.repeat_window_s" in faults_of(press)


def test_a_word_for_above_that_looks_like_a_number_is_a_fault(press: dict[str, Any]) -> None:
    press["value"]["over"] = ["999.9"]
    press["value"]["under"] = [" LO"]
    assert set(faults_of(press)) == {"value.over[0]", "value.under[0]"}


def test_asking_who_is_there_without_an_answer_to_it_is_a_fault(press: dict[str, Any]) -> None:
    del press["message"][3]
    assert "identify" in faults_of(press)


def test_a_checksum_nobody_knows_is_a_fault(press: dict[str, Any]) -> None:
    press["checksum"]["kind"] = "crc99"
    assert "'xor8', 'sum8'" in faults_of(press)["checksum.kind"][1]


def test_a_checksum_cannot_cover_what_does_not_stand_before_it(press: dict[str, Any]) -> None:
    press["checksum"] |= {"after": "", "with_after": True}
    assert "checksum.with_after" in faults_of(press)


def test_force_has_no_geometry(press: dict[str, Any]) -> None:
    press["kind"] = "force"
    press["unit"]["tokens"] = {"GU": "gram_force"}
    found = faults_of(press)
    assert found["geometry"][1] == "none: force has no geometry"
    assert found["message[0].pattern"][1] == "none: force has no geometry"


def test_a_geometry_once_more_needs_the_first_one(press: dict[str, Any]) -> None:
    message = next(one for one in press["message"] if one["means"] == "reading")
    at = press["message"].index(message)
    message["pattern"] = message["pattern"].replace("<geometry>", "<geometry_again>")
    _, wanted = faults_of(press)[f"message[{at}].pattern"]
    assert "(?P<geometry>...) as well" in wanted


def beside(press: dict[str, Any]) -> dict[str, Any]:
    """A profile of presses of two lines, of which the first one says the geometry."""
    line = {"means": "nothing", "pattern": r"ANGLE (?P<geometry>\d+)", "in_press": [1]}
    value = {"means": "reading", "pattern": r"(?P<value>\d+\.\d) (?P<unit>GU)", "in_press": [2]}
    press["text"]["together_s"] = 0.25
    del press["identify"], press["press"]["highest_count"]
    return {**press, "message": [line, value]}


def test_a_line_beside_may_say_the_geometry_and_then_nothing_else_does(
    press: dict[str, Any],
) -> None:
    table = beside(press)
    FAMILY.needs(table, "sound")
    own = deepcopy(table)
    own["message"][1]["pattern"] = r"(?P<geometry>\d+) (?P<value>\d+\.\d) (?P<unit>GU)"
    assert "a line beside says it" in faults_of(own)["message[1].pattern"][1]
    several = deepcopy(table)
    several["message"][1]["pattern"] = r"(?P<value_20>\d+\.\d) (?P<value_60>\d+\.\d) (?P<unit>GU)"
    assert "a line beside says its geometry" in faults_of(several)["message[1].pattern"][1]
    default = {**deepcopy(table), "geometry": {"tokens": {"60": 60}, "default": 60}}
    assert "a line beside says it" in faults_of(default)["message[1].pattern"][1]
    none = {**deepcopy(table), "geometry": {}}
    assert "in a line beside message[1]" in faults_of(none)["geometry.tokens"][1]
    band = deepcopy(table)
    band["message"][0]["pattern"] = r"BAND (?P<band>\d+)"
    assert faults_of(band)["message[0].pattern"][1] == "none: gloss has no band"


def test_a_line_that_is_none_of_a_press_says_no_geometry(press: dict[str, Any]) -> None:
    table = beside(press)
    table["message"][0].pop("in_press")
    table["message"][1]["in_press"] = [1]
    got, wanted = faults_of(table)["message[0].pattern"]
    assert got == "the group 'geometry'"
    assert "in_press" in wanted
