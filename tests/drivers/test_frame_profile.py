"""Frame profiles: the shipped ones are sound, and every fault of a bad one is told at once."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import LinkNeeds, Parity
from drivers.frame import FAMILY
from drivers.frame.family import load
from tests.captures import profile
from tests.drivers.faulty import told

LAYOUTS = ("frame-gloss", "frame-force", "frame-bands")


def faults_of(table: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return told(FAMILY, table)


@pytest.fixture
def gloss() -> dict[str, Any]:
    return deepcopy(profile("frame-gloss"))


@pytest.fixture
def force() -> dict[str, Any]:
    return deepcopy(profile("frame-force"))


@pytest.fixture
def bands() -> dict[str, Any]:
    return deepcopy(profile("frame-bands"))


def test_the_shipped_profiles_declare_the_lines_of_their_layouts() -> None:
    assert FAMILY.needs(profile("frame-gloss"), "p") == LinkNeeds(38400, 8, Parity.NONE, 1)
    assert FAMILY.needs(profile("frame-force"), "p") == LinkNeeds(19200, 8, Parity.EVEN, 1)
    assert FAMILY.needs(profile("frame-bands"), "p") == LinkNeeds(9600, 8, Parity.NONE, 1)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_kind_of_frame_in_a_shipped_profile_has_an_example(layout: str) -> None:
    assert all("example" in message for message in profile(layout)["message"])


def test_all_faults_are_told_at_once(gloss: dict[str, Any]) -> None:
    gloss["line"]["baud_rate"] = "fast"
    gloss["frame"]["start"] = "A5 5"
    gloss["checksum"]["kind"] = "crc99"
    gloss["message"][0]["value"][0]["type"] = "int17"
    gloss["message"][0]["value"][1]["scale"] = 0
    gloss["message"][1]["means"] = "switched-on"
    gloss["message"][2]["serial"]["size"] = 0
    gloss["unit"]["default"] = "newton"
    gloss["identify"]["command"] = "who?"
    gloss["colour"] = "red"
    assert set(faults_of(gloss)) == {
        "line.baud_rate",
        "frame.start",
        "checksum.kind",
        "message[0].value[0].type",
        "message[0].value[1].scale",
        "message[1].means",
        "message[2].serial.size",
        "unit.default",
        "identify.command",
        "colour",
    }


def test_samples_in_frames_are_a_fault_and_no_crash(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["means"] = "sample"
    got, wanted = faults_of(gloss)["message[0].means"]
    assert got == "'sample'"
    assert "sample" not in wanted


def test_bytes_are_written_in_hex(gloss: dict[str, Any]) -> None:
    for text in ("", "A", "A5  5A", "0xA5", "A5,5A", "G0", 165):
        gloss["frame"]["start"] = text
        assert faults_of(gloss)["frame.start"][1] == (
            'bytes in hex, two digits each, such as "AA 55"'
        )


def test_only_digits_are_written_in_some_way(force: dict[str, Any]) -> None:
    value = force["message"][0]["value"][0]
    value |= {"decimals": 0, "full": True, "plus": False, "point": ","}
    found = faults_of(force)
    for key in ("decimals", "full", "plus", "point"):
        assert found[f"message[0].value[0].{key}"][1] == f"nothing: {value['type']} is no digits"


def test_the_length_is_told_once(gloss: dict[str, Any], force: dict[str, Any]) -> None:
    gloss["frame"]["bytes"] = 15
    assert "frame.length" in faults_of(gloss)
    del force["frame"]["bytes"]
    assert "frame.bytes" in faults_of(force)


def test_a_number_in_the_place_of_the_length_field_names_the_key_for_one_length(
    force: dict[str, Any],
) -> None:
    force["frame"]["length"] = force["frame"].pop("bytes")
    got, wanted = faults_of(force)["frame.length"]
    assert got.isdecimal()
    assert "bytes for one length of all frames" in wanted


def test_every_frame_of_several_lengths_has_one(gloss: dict[str, Any]) -> None:
    del gloss["message"][3]["bytes"]
    assert faults_of(gloss)["message[3].bytes"][0] == "nothing"


def test_a_length_beside_the_one_length_is_a_fault(force: dict[str, Any]) -> None:
    force["message"][0]["bytes"] = 11
    assert "message[0].bytes" in faults_of(force)


def test_fields_lie_in_their_frame_and_not_in_its_markers(force: dict[str, Any]) -> None:
    force["message"][0]["value"][0]["offset"] = 6
    assert faults_of(force)["message[0].value[0]"][1] == "no byte of the checksum"
    force["message"][0]["value"][0]["offset"] = 9
    assert faults_of(force)["message[0].value[0]"] == (
        "bytes 9 to 12",
        "bytes of a frame of 11: 0 to 10",
    )
    force["message"][0]["value"][0]["offset"] = 4
    force["message"][0]["count"]["offset"] = 0
    assert faults_of(force)["message[0].count"][1] == "no byte of the start marker"


def test_a_checksum_lies_in_its_frame_and_does_not_prove_itself(force: dict[str, Any]) -> None:
    force["checksum"]["last"] = 9
    assert "without the checksum itself" in faults_of(force)["checksum.last"][1]
    force["checksum"] |= {"last": 8, "at": 10}
    assert faults_of(force)["checksum.at"][1] == "no byte of the end marker"
    force["checksum"]["at"] = 11
    assert "checksum.at" in faults_of(force)


def test_the_order_of_several_bytes_is_never_guessed(gloss: dict[str, Any]) -> None:
    del gloss["checksum"]["order"]
    del gloss["message"][0]["count"]["order"]
    del gloss["message"][0]["value"][2]["order"]
    assert set(faults_of(gloss)) == {
        "checksum.order",
        "message[0].count.order",
        "message[0].value[2].order",
    }


def test_a_size_is_wanted_where_the_type_has_none_and_refused_elsewhere(
    force: dict[str, Any],
) -> None:
    del force["message"][0]["value"][0]["size"]
    force["message"][0]["count"] = {"offset": 8, "type": "uint8", "size": 1}
    assert set(faults_of(force)) == {"message[0].value[0].size", "message[0].count.size"}


def test_a_number_says_its_sign_once(force: dict[str, Any]) -> None:
    force["message"][0]["value"][0]["minus"] = {"offset": 3, "mask": "80", "is": "80"}
    assert "sign of its own" in faults_of(force)["message[0].value[0].minus"][1]
    value = force["message"][0]["value"][0]
    del value["minus"], value["size"]
    value |= {"type": "uint16", "order": "big", "sign": "top-bit"}
    force["message"][0].pop("example", None)
    assert load(force, "p").messages[0].values[0].field.read(b"\x80\x21") == -33
    value["sign"] = "last-nibble"
    assert '"top-bit" or none' in faults_of(force)["message[0].value[0].sign"][1]
    value |= {"type": "int16", "sign": "top-bit"}
    assert "no sign" in faults_of(force)["message[0].value[0].sign"][1]


def test_a_mask_lets_through_what_is_wanted(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["status"][0]["is"] = "03"
    gloss["message"][0]["status"][1]["mask"] = "04 04"
    assert set(faults_of(gloss)) == {"message[0].status[0].is", "message[0].status[1].mask"}


def test_an_error_has_a_code(gloss: dict[str, Any]) -> None:
    del gloss["message"][0]["status"][0]["code"]
    assert "message[0].status[0].code" in faults_of(gloss)


def test_parts_must_be_those_of_the_meaning(gloss: dict[str, Any]) -> None:
    gloss["message"][1]["count"] = {"offset": 4, "type": "uint8"}
    del gloss["message"][2]["serial"]
    del gloss["message"][0]["value"]
    found = faults_of(gloss)
    assert found["message[1].count"][1] == "only 'serial' in power-up"
    assert "message[2].serial" in found
    assert "message[0].value" in found


def test_two_kinds_that_look_alike_are_a_fault(gloss: dict[str, Any]) -> None:
    gloss["message"][2]["where"] = gloss["message"][1]["where"]
    assert "message[2].where" in faults_of(gloss)


def test_copies_lie_in_the_frame_and_beside_what_they_repeat(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["copies"] = [
        {"offset": 9, "of": 20},
        {"offset": 5, "of": 6, "bytes": 2},
        {"offset": 14, "of": 5},
    ]
    found = faults_of(gloss)
    assert found["message[0].copies[0].of"][1] == "bytes of a frame of 15: 0 to 14"
    assert found["message[0].copies[1].of"][1] == "2 other bytes than those from 5 on"
    assert found["message[0].copies[2].offset"][1] == "no byte of the checksum"


def test_what_stands_once_more_lies_in_the_frame_beside_what_it_repeats(
    gloss: dict[str, Any],
) -> None:
    value = gloss["message"][0]["value"][0]
    value["geometry_again"] = [{"offset": 3}]
    wanted = "none: there is no geometry_at to hold it against"
    assert faults_of(gloss)["message[0].value[0].geometry_again"][1] == wanted
    del value["geometry"]
    value["geometry_at"] = {"offset": 6}
    value["geometry_again"] = [
        {"offset": 20},
        {"offset": 14},
        {"offset": 7},
        {"offset": 3, "size": 2},
    ]
    gloss["geometry"] = {"tokens": {"14": 20, "3C": 60}}
    found = faults_of(gloss)
    assert found["message[0].value[0].geometry_again[0]"][1] == "bytes of a frame of 15: 0 to 14"
    assert found["message[0].value[0].geometry_again[1]"][1] == "no byte of the checksum"
    assert found["message[0].value[0].geometry_again[2]"]
    assert found["geometry.tokens.14"]


def test_a_kind_of_frame_with_copies_leaves_those_that_differ_to_the_next(
    gloss: dict[str, Any],
) -> None:
    gloss["message"][1]["where"] = gloss["message"][2]["where"]
    assert "message[2].where" in faults_of(gloss)
    gloss["message"][1]["copies"] = [{"offset": 3, "of": 4}]
    assert "message[2].where" not in faults_of(gloss)


def test_the_values_of_a_byte_are_of_one_width_and_differ(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["one_of"] = [
        {"offset": 6, "values": ["00", "01", "00"]},
        {"offset": 6, "values": ["00", "01 02"]},
        {"offset": 15, "values": ["00"]},
    ]
    found = faults_of(gloss)
    assert found["message[0].one_of[0].values[2]"][1] == "each value once"
    assert found["message[0].one_of[1].values[1]"][1] == "as many bytes as 00 has"


def test_a_choice_of_values_lies_in_its_frame(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["one_of"] = [{"offset": 15, "values": ["00"]}]
    assert faults_of(gloss)["message[0].one_of[0]"][1] == "bytes of a frame of 15: 0 to 14"


def test_a_kind_of_frame_of_some_values_leaves_the_others_to_the_next(
    gloss: dict[str, Any],
) -> None:
    gloss["message"][1]["where"] = gloss["message"][2]["where"]
    gloss["message"][1]["one_of"] = [{"offset": 3, "values": ["42"]}]
    assert "message[2].where" not in faults_of(gloss)


def test_values_of_a_frame_are_of_different_channels(
    gloss: dict[str, Any], force: dict[str, Any]
) -> None:
    gloss["message"][0]["value"][1]["geometry"] = 20
    assert "message[0].value[1].geometry" in faults_of(gloss)
    force["message"][0]["value"] *= 2
    assert "message[0].value[1]" in faults_of(force)


def test_a_channel_is_that_of_the_kind(
    gloss: dict[str, Any], force: dict[str, Any], bands: dict[str, Any]
) -> None:
    gloss["message"][0]["value"][0]["band"] = "940"
    assert "message[0].value[0].band" in faults_of(gloss)
    force["message"][0]["value"][0]["geometry"] = 20
    assert "force has no geometry" in faults_of(force)["message[0].value[0].geometry"][1]
    del bands["message"][0]["value"][0]["band"]
    assert "band.default" in faults_of(bands)


def test_codes_are_bytes_of_the_size_of_their_field(force: dict[str, Any]) -> None:
    force["unit"]["tokens"] = {"N": "newton", "4E 20": "newton", "47": "gram_force"}
    assert set(faults_of(force)) == {"unit.tokens.N", "unit.tokens.'4E 20'"}


def test_a_unit_that_is_told_has_a_table(force: dict[str, Any]) -> None:
    force["unit"] = {}
    assert "unit.tokens" in faults_of(force)
    del force["message"][0]["value"][0]["unit_at"]
    assert "unit.default" in faults_of(force)


def test_an_example_that_is_not_understood_is_a_fault(gloss: dict[str, Any]) -> None:
    gloss["message"][0]["example"] = "A5 5A 0A 52 00 01 00 03 93 03 BE 03 D6 1C 9B"
    gloss["message"][1]["example"] = gloss["message"][2]["example"]
    gloss["message"][3]["example"] = "A5 5A 03 41 00 04 51 B7 00"
    found = faults_of(gloss)
    assert "wrong checksum: got 9B1C, wanted" in found["message[0].example"][0]
    assert "taken as identity" in found["message[1].example"][0]
    assert "message[3].example" in found


def test_two_ways_to_tell_presses_apart_are_a_fault(gloss: dict[str, Any]) -> None:
    gloss["press"]["repeat_window_s"] = Decimal("1.0")
    assert "press.repeat_window_s" in faults_of(gloss)


def test_a_proven_count_where_no_reading_has_a_count_is_a_fault(gloss: dict[str, Any]) -> None:
    gloss["press"] = {"proven_count": 127, "may_be_packed": True}
    del gloss["message"][0]["count"]
    found = faults_of(gloss)
    assert {"press.proven_count", "press.may_be_packed"} <= set(found)


def test_asking_without_a_count_is_a_fault(force: dict[str, Any]) -> None:
    del force["message"][0]["count"]
    del force["press"]["highest_count"]
    force["ask"] = {"command": "02 4D 03", "every_s": Decimal("0.5")}
    assert "may be an old result" in faults_of(force)["ask"][1]


def test_a_profile_without_readings_is_a_fault(gloss: dict[str, Any]) -> None:
    del gloss["message"][0]
    assert "message" in faults_of(gloss)


def test_asking_who_is_there_without_an_answer_to_it_is_a_fault(gloss: dict[str, Any]) -> None:
    del gloss["message"][2]
    assert "identify" in faults_of(gloss)


def test_a_command_is_sent_byte_for_byte(gloss: dict[str, Any]) -> None:
    from acquire.driverapi.conformance import START

    gloss["start"] = {"command": "00 ff 80"}
    opening = FAMILY.driver(gloss, "p").opening(START)
    assert opening == b"\x00\xff\x80" + bytes.fromhex("A5 5A 01 3F 40 30")


def test_a_stream_of_frames_is_a_fault(gloss: dict[str, Any]) -> None:
    gloss["stream"] = {"rate_hz": 100, "step": Decimal("0.1")}
    assert "no sample" in faults_of(gloss)["stream"][1]


@pytest.mark.parametrize(("kind", "digits"), [("sum8", "46 36"), ("xor8", "32 38")])
def test_a_checksum_in_digits_is_that_of_the_page(kind: str, digits: str) -> None:
    table = profile("frame-bands")
    table["frame"] |= {"start": "02", "end": "03", "bytes": 9}
    checked = {"kind": kind, "first": 1, "last": 5, "at": 6, "form": "hex-upper"}
    value = {"offset": 1, "type": "digits", "size": 5}
    message = {"means": "reading", "value": [value], "example": f"02 31 32 30 2E 35 {digits} 03"}
    table |= {"checksum": checked, "message": [message]}
    table["band"] = {"default": "940"}
    table.pop("press", None)
    FAMILY.driver(table, "p")
    message["example"] = f"02 31 32 30 2E 36 {digits} 03"
    assert "message[0].example" in told(FAMILY, table)


def test_only_numbers_of_two_words_have_an_order_of_them(gloss: dict[str, Any]) -> None:
    value = gloss["message"][0]["value"][0]
    value["word_order"] = "low-first"
    wanted = faults_of(gloss)["message[0].value[0].word_order"][1]
    assert "is not of two words" in wanted


def test_digits_whose_sign_a_byte_tells_have_none_of_their_own(gloss: dict[str, Any]) -> None:
    reading = gloss["message"][0]
    reading.pop("example")
    value = {
        "offset": 8, "type": "digits", "size": 4, "geometry": 20,
        "minus": {"offset": 12, "is": "2D"},
    }  # fmt: skip
    reading["value"] = [value]
    read = load(gloss, "p").messages[0].values[0].field.read
    assert str(read(b"0914")) == "914"
    for signed in (b"-914", b"+914"):
        assert isinstance(read(signed), str)
    value["plus"] = True
    assert "message[0].value[0].plus" in faults_of(gloss)
