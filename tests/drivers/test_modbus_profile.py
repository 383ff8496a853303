"""Profiles of Modbus devices: what they plan, and what is refused in which words."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import Parity
from acquire.errors import SettingsError
from drivers.modbus import FAMILY
from drivers.modbus.family import load
from drivers.modbus.profile import silence_s
from drivers.modbus.request import Block, Table
from tests.captures import profile

GLOSS, FORCE, TRANSMISSION = "modbus-gloss", "modbus-force", "modbus-transmission"


def changed(layout: str, **tables: Any) -> dict[str, Any]:
    """A shipped profile with some keys put in place of its own; None takes one out."""
    table = deepcopy(profile(layout))
    for key, value in tables.items():
        if value is None:
            del table[key]
        elif isinstance(value, dict) and isinstance(table.get(key), dict):
            table[key] |= value
        else:
            table[key] = value
    return table


def faults(table: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(SettingsError) as caught:
        load(table, "p")
    return {fault.path: f"{fault.got}; {fault.wanted}" for fault in caught.value.faults}


def test_the_line_of_a_profile_is_what_its_link_needs() -> None:
    needs = FAMILY.needs(profile(GLOSS), "p")
    assert (needs.baud_rate, needs.data_bits, needs.parity) == (19200, 8, Parity.EVEN)


def test_registers_side_by_side_are_one_request() -> None:
    assert load(profile(GLOSS), "p").plan.blocks == (Block(Table.INPUT, 0, 6),)


def test_a_hole_makes_two_requests_with_the_count_read_again_at_the_end() -> None:
    table = changed(GLOSS, count={"address": 40})
    count, values = Block(Table.INPUT, 40, 1), Block(Table.INPUT, 1, 5)
    assert load(table, "p").plan.blocks == (count, values, count)


def test_a_hole_is_bridged_where_the_profile_says_that_it_may() -> None:
    table = changed(GLOSS, count={"address": 40}, poll={"bridge_registers": 34})
    assert load(table, "p").plan.blocks == (Block(Table.INPUT, 1, 40),)


def test_no_request_asks_for_more_than_125_registers() -> None:
    table = changed(GLOSS, count={"address": 200}, poll={"bridge_registers": 123})
    table["value"][2]["address"] = 120
    assert load(table, "p").plan.blocks == (
        Block(Table.INPUT, 200, 1),
        Block(Table.INPUT, 1, 120),
        Block(Table.INPUT, 200, 1),
    )


@pytest.mark.parametrize(
    ("baud", "seconds"), [(9600, "0.004010"), (19200, "0.002005"), (115200, "0.00175")]
)
def test_the_silence_between_frames_is_that_of_the_standard(baud: int, seconds: str) -> None:
    # 3.5 * 11 / baud; V1.02, 2.5.1.1: 1.750 ms above 19200 baud.
    assert abs(silence_s(baud) - Decimal(seconds)) < Decimal("0.000001")


@pytest.mark.parametrize(
    ("address", "table", "meant"),
    [
        (40001, "holding", 0),
        (30003, "input", 2),
        (400_101, "holding", 100),
        (49_999, "holding", 9998),
    ],
)
def test_a_number_of_a_manual_is_refused_with_the_address_that_was_meant(
    address: int, table: str, meant: int
) -> None:
    told = faults(changed(GLOSS, count={"address": address}))["count.address"]
    assert f'the register that a manual calls {address} is table = "{table}"' in told
    assert f"address = {meant}" in told


def test_such_an_address_can_be_meant_as_it_is() -> None:
    table = changed(GLOSS, count={"address": "0x9C41"})
    assert load(table, "p").plan.blocks[0] == Block(Table.INPUT, 40001, 1)


@pytest.mark.parametrize("address", [-1, 65_536, "40", "0x10000", True, 1.5])
def test_an_address_is_one_of_the_wire(address: object) -> None:
    assert "from 0 to 65535" in faults(changed(GLOSS, count={"address": address}))["count.address"]


def test_a_number_may_not_stick_out_of_its_table() -> None:
    table = changed(FORCE)
    table["value"][0]["address"] = "0xFFFF"
    assert "room for the 2 registers" in faults(table)["value[0].address"]


def test_without_count_bit_and_take_an_old_result_looks_like_a_new_one() -> None:
    assert "an old result looks like a new one" in faults(changed(GLOSS, count=None))["count"]


def test_with_a_take_alone_nothing_is_asked_by_itself() -> None:
    plan = load(profile(TRANSMISSION), "p").plan
    assert not plan.watch


@pytest.mark.parametrize("unit", [0, 248, 255, 256])
def test_a_unit_on_a_serial_line_is_1_to_247(unit: int) -> None:
    assert "1 to 247" in faults(changed(GLOSS, unit_address=unit))["unit_address"]


@pytest.mark.parametrize(
    ("table", "path", "words"),
    [
        (changed(GLOSS, line=None), "line", "baud_rate and parity"),
        (changed(GLOSS, line={"data_bits": 7}), "line.data_bits", "bytes of 8 bits"),
        (changed(FORCE, line={"baud_rate": 9600}), "line", "has no serial line"),
        (changed(FORCE, unit_address=250), "unit_address", "without gateway"),
        (changed(GLOSS, ready={"table": "coil", "address": 0}), "ready", "one of both"),
        (changed(FORCE, ready={"table": "coil", "bit": 3}), "ready.bit", "a bit already"),
        (changed(FORCE, ready={"table": "input"}), "ready.bit", "the bit of the register"),
        (changed(GLOSS, count={"type": "float32"}), "count.type", "uint16"),
        (changed(GLOSS, band={"codes": {"1": "940"}}), "band", "gloss has no band"),
        (changed(FORCE, geometry={"codes": {"1": 20}}), "geometry", "force has no geometry"),
        (changed(FORCE, unit={"codes": {"0": "percent"}}), "unit.codes.0", "newton"),
        (changed(FORCE, unit={"codes": {"zero": "newton"}}), "unit.codes.zero", "a code"),
        (changed(FORCE, unit={"default": "newton"}), "unit.default", "unit.at says the unit"),
        (changed(FORCE, unit={"at": None}), "unit.at", ""),
        (changed(GLOSS, press={"echo_window_s": 1}), "press.echo_window_s", "when it is asked"),
        (changed(GLOSS, press={"lowest_count": 0}), "press.lowest_count", "no press since"),
        (changed(FORCE, press={"highest_count": 9}), "press.highest_count", "a [count]"),
        (changed(GLOSS, answer={"gap_s": 2}), "answer.gap_s", "at most within_s"),
        (changed(TRANSMISSION, take={"value": 2}), "take.value", "1 (on) or 0 (off)"),
        (changed(TRANSMISSION, identity={"source": "registers"}), "identity.at", "serial number"),
        (changed(GLOSS, identity={"object": 1}), "identity.object", "none"),
        (changed(GLOSS, poll={"every_s": 0.001}), "poll.every_s", "0.02"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_fault_is_told_in_its_place(table: dict[str, Any], path: str, words: str) -> None:
    found = faults(table)
    assert path in found, found
    assert words in found[path]


def test_values_of_one_press_have_channels_of_their_own() -> None:
    table = changed(GLOSS)
    table["value"][1]["geometry"] = 20
    assert "another one than value[0] has" in faults(table)["value[1].geometry"]


def test_a_pattern_of_bits_has_one_meaning_and_fits_its_registers() -> None:
    table = changed(GLOSS)
    table["value"][0] |= {"under": [0x7FFF], "absent": [0x10000]}
    found = faults(table)
    assert "not in over as well" in found["value[0].under[0]"]
    assert "at most 16 bits" in found["value[0].absent[0]"]


def test_every_fault_is_told_at_once() -> None:
    table = changed(GLOSS, unit_address=300, line={"data_bits": 7}, count={"address": 40001})
    assert {"unit_address", "line.data_bits", "count.address"} <= set(faults(table))
