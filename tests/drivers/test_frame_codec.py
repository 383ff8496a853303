"""One frame at a time: what is understood, and what is refused though it looks right."""

from __future__ import annotations

import struct
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverapi.capture import capture
from acquire.driverapi.conformance import violations
from acquire.driverkit import Heard, Means
from acquire.model import Flag
from drivers.frame import FAMILY
from drivers.frame.codec import Codec
from drivers.frame.family import load
from tests.captures import profile

LOOSE: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "frame": {"start": "02", "bytes": 8},
    "message": [{"means": "reading", "value": [{"offset": 4, "type": "float32", "order": "big"}]}],
    "unit": {"default": "gram_force"},
}


def codec(**value: Any) -> Codec:
    """Of a frame of eight bytes with one value, which is changed by these keys."""
    table = deepcopy(LOOSE)
    table["message"][0]["value"][0] |= value
    return Codec(load(table, "test"))


def one(heard: list[Heard] | str) -> Heard:
    assert isinstance(heard, list), heard
    (only,) = heard
    return only


def frame(hexadecimal: str) -> bytes:
    data = b"\x02" + bytes.fromhex(hexadecimal)
    assert len(data) == 8
    return data


def test_a_float_is_the_number_that_was_meant() -> None:
    heard = one(codec().decode(frame("00 00 00 42 B6 CC CD")))
    assert (heard.value, heard.text, heard.unit) == (Decimal("91.4"), "42 B6 CC CD", "gram_force")


def test_a_float_that_is_no_number_has_a_reason_and_no_value() -> None:
    for bits in ("7F 80 00 00", "FF C0 00 00"):
        why = codec().decode(frame("00 00 00 " + bits))
        assert why == f"the value {bits} is NaN or infinite"


def test_a_float_beyond_all_measure_has_a_reason_and_no_value() -> None:
    for value in (1e30, -1e30, 1e-30):
        why = codec().decode(b"\x02\0\0\0" + struct.pack(">f", value))
        assert isinstance(why, str)
        assert "beyond all measure" in why


def test_bits_can_say_the_decimals_the_sign_the_unit() -> None:
    table = deepcopy(LOOSE)
    table["unit"] = {"tokens": {"00": "newton", "40": "kilogram_force"}}
    table["message"][0]["value"][0] = {
        "offset": 6,
        "type": "uint16",
        "order": "little",
        "decimals_at": {"offset": 5, "mask": "30"},
        "minus": {"offset": 5, "mask": "80", "is": "80"},
        "unit_at": {"offset": 5, "mask": "40"},
    }
    decode = Codec(load(table, "test")).decode
    heard = one(decode(frame("00 00 00 00 10 D2 04")))
    assert (str(heard.value), heard.unit) == ("123.4", "newton")
    heard = one(decode(frame("00 00 00 00 F0 D2 04")))
    assert (str(heard.value), heard.unit) == ("-1.234", "kilogram_force")
    assert str(one(decode(frame("00 00 00 00 80 00 00"))).value) == "0"


def test_an_exponent_field_moves_the_point_both_ways() -> None:
    loose = codec(type="uint16", exponent_at={"offset": 7, "type": "int8"})
    assert str(one(loose.decode(frame("00 00 00 04 D2 00 FE"))).value) == "12.34"
    assert str(one(loose.decode(frame("00 00 00 04 D2 00 02"))).value) == "123400"
    assert loose.decode(frame("00 00 00 04 D2 00 0D")) == (
        "ten to the power of 13 is beyond all measure"
    )


def test_digits_keep_the_text_that_was_sent() -> None:
    heard = one(codec(type="digits", order=None, size=4).decode(b"\x02abc 1.5"))
    assert (heard.text, str(heard.value)) == ("1.5", "1.5")
    why = codec(type="digits", order=None, size=4).decode(b"\x02abc1.5 ")
    assert why == "the digits '1.5 ' are no number"


@pytest.mark.parametrize(
    ("written", "good", "bad"),
    [
        ({"decimals": 0}, ["0314", " 314", "+314", "-314"], ["31.4", "3.14"]),
        ({"decimals": 1}, ["31.4", " 1.4", "-1.4"], ["0314", "3.14"]),
        ({"full": True}, ["0314", "-314", "31.4", "+314"], [" 314", "- 14"]),
        ({"plus": True}, ["+314", "-314", " +31"], ["0314", " 314"]),
        ({"plus": False}, ["0314", "-314"], ["+314"]),
    ],
)
def test_digits_are_read_only_as_the_profile_says_that_they_are_written(
    written: dict[str, object], good: list[str], bad: list[str]
) -> None:
    decode = codec(type="digits", order=None, size=4, **written).decode
    for text in good:
        assert one(decode(b"\x02abc" + text.encode())).value == Decimal(text.replace(" ", ""))
    for text in bad:
        assert decode(b"\x02abc" + text.encode()) == f"the digits {text!r} are no number"


GLOSS = Codec(load(profile("frame-gloss"), "frame-gloss"))
FORCE = Codec(load(profile("frame-force"), "frame-force"))


def gloss(body: str) -> bytes:
    """A whole frame whose checksum nobody looks at: that is the framer's."""
    data = bytes.fromhex(body)
    return b"\xa5\x5a" + bytes([len(data)]) + data + b"\0\0"


def test_a_frame_of_another_kind_or_length_is_none_of_the_profile() -> None:
    assert GLOSS.decode(gloss("51 00 01 00 03 92 03 BE 03 D6")) == "no frame of the profile"
    assert GLOSS.decode(gloss("52 00 01 00 03 92 03 BE 03")) == "no frame of the profile"
    assert GLOSS.decode(b"") == "no frame of the profile"


def test_the_first_status_that_holds_decides() -> None:
    both = GLOSS.decode(gloss("52 00 01 03 03 92 03 BE 03 D6"))
    assert one(both)[:2] == (Means.TROUBLE, "LAMP")
    assert one(GLOSS.decode(gloss("52 00 01 06 03 92 03 BE 03 D6"))).text == "LIFT"
    moved = one(GLOSS.decode(gloss("52 00 07 02 03 92 03 BE 03 D6")))
    assert (moved.means, moved.text, moved.press) == (Means.TROUBLE, "not stable", 7)


def test_what_is_not_stable_is_noise_where_no_press_is_counted() -> None:
    loose = codec(status=[{"offset": 1, "is": "01", "means": "unstable"}])
    why = loose.decode(frame("01 00 00 42 B6 CC CD"))
    assert why == "the device says that the value is not stable"


def test_a_press_without_any_value_is_no_reading() -> None:
    assert GLOSS.decode(gloss("52 00 01 70 00 00 00 00 00 00")) == "no value"


def test_out_of_range_has_a_flag_and_no_value() -> None:
    heard = GLOSS.decode(gloss("52 00 01 00 7F FF 80 00 03 D6"))
    assert isinstance(heard, list)
    assert [(h.channel, h.value, h.flags) for h in heard] == [
        ("20", None, {Flag.OVER_RANGE}),
        ("60", None, {Flag.UNDER_RANGE}),
        ("85", Decimal("98.2"), set()),
    ]


def test_a_serial_number_is_shown_only_if_it_can_be() -> None:
    assert one(GLOSS.decode(gloss("49 47 46 2D 31 20 20 00 00"))).text == "GF-1"
    why = GLOSS.decode(gloss("49 47 46 1B 5B 33 31 6D 00"))
    assert isinstance(why, str)
    assert "no printable ASCII" in why
    assert GLOSS.decode(gloss("49 00 00 00 00 00 00 00 00")) == "no serial number"
    assert isinstance(GLOSS.decode(gloss("49 47 00 46 00 00 00 00 00")), str)


def test_a_channel_that_is_told_twice_in_a_frame_is_refused() -> None:
    table = deepcopy(LOOSE)
    table |= {"kind": "gloss", "unit": {"default": "gloss_unit"}}
    table["geometry"] = {"tokens": {"14": 20, "3C": 60}}
    table["message"][0]["value"] = [
        {"offset": 1, "type": "uint8", "geometry_at": {"offset": 2}},
        {"offset": 3, "type": "uint8", "geometry_at": {"offset": 4}},
    ]
    decode = Codec(load(table, "test")).decode
    heard = decode(frame("5B 14 5F 3C 00 00 00"))
    assert isinstance(heard, list)
    assert [(h.channel, str(h.value)) for h in heard] == [("20", "91"), ("60", "95")]
    assert decode(frame("5B 14 5F 14 00 00 00")) == "two values of the geometry 20"
    assert decode(frame("5B 14 5F 55 00 00 00")) == "the geometry '55' is not in the profile"


TWICE: dict[str, Any] = {
    "kind": "gloss",
    "line": {"baud_rate": 9600},
    "frame": {"start": "AA", "end": "BB", "bytes": 6},
    "message": [
        {
            "means": "reading",
            "value": [
                {
                    "offset": 2,
                    "type": "uint16",
                    "order": "big",
                    "scale": Decimal("0.1"),
                    "geometry_at": {"offset": 1},
                    "geometry_again": [{"offset": 4}],
                }
            ],
        }
    ],
    "unit": {"default": "gloss_unit"},
    "geometry": {"tokens": {"14": 20, "3C": 60, "20": 20, "60": 60}},
}
"""The profile of the frames that WIRE.md works under "A geometry or band that stands twice"."""


def test_a_geometry_that_stands_once_more_is_the_same_one_or_the_frame_is_noise() -> None:
    decode = Codec(load(TWICE, "test")).decode
    for text, channel in (("AA 14 03 92 14 BB", "20"), ("AA 3C 03 92 60 BB", "60")):
        heard = one(decode(bytes.fromhex(text)))
        assert (heard.channel, str(heard.value)) == (channel, "91.4")
    assert decode(bytes.fromhex("AA 14 03 92 3C BB")) == "the geometry is '14' and once more '3C'"
    assert decode(bytes.fromhex("AA 14 03 92 55 BB")) == "the geometry is '14' and once more '55'"


def test_its_driver_keeps_every_rule_of_the_kit() -> None:
    good, bad = "\xaa\x14\x03\x92\x14\xbb", "\xaa\x14\x03\x92\x3c\xbb"
    heard = {"text": "03 92", "value": "91.4", "unit": "gloss_unit", "channel": "20"}
    told = {
        "step": [{"received": good}, {"after_s": 1.0, "received": bad}, {"after_s": 1.0}],
        "fact": [{"is": "reading", "raw": good, **heard}, {"is": "noise", "raw": bad}],
    }
    assert violations(FAMILY, TWICE, [capture(told, "twice")], spoilt_bytes=20_000) == []


def test_so_is_a_band() -> None:
    table = deepcopy(TWICE) | {"kind": "transmittance", "unit": {"default": "percent"}}
    table["band"] = {"tokens": {"01": "315-400", "02": "380-780"}}
    del table["geometry"]
    value = table["message"][0]["value"][0]
    value["band_at"], value["band_again"] = value.pop("geometry_at"), value.pop("geometry_again")
    decode = Codec(load(table, "test")).decode
    assert one(decode(bytes.fromhex("AA 01 03 92 01 BB"))).channel == "315-400"
    assert decode(bytes.fromhex("AA 01 03 92 02 BB")) == "the band is '01' and once more '02'"


@pytest.mark.parametrize("name", ["frame-gloss", "frame-force", "frame-bands", "loose"])
@settings(deadline=None, derandomize=True)
@given(data=st.data())
def test_any_frame_is_understood_or_gets_a_reason(name: str, data: st.DataObject) -> None:
    loaded = load(LOOSE if name == "loose" else profile(name), name)
    example = data.draw(st.sampled_from([m.length for m in loaded.messages]))
    raw = data.draw(st.binary(min_size=example, max_size=example))
    kinds = {"frame-gloss": b"RBIAE", "frame-force": b"PSWCF"}.get(name)
    if kinds:
        place = 3 if name == "frame-gloss" else 1
        kind = data.draw(st.sampled_from(list(kinds)))
        raw = raw[:place] + bytes([kind]) + raw[place + 1 :]
    heard = Codec(loaded).decode(raw)
    assert heard
    for said in heard if isinstance(heard, list) else []:
        if said.means is Means.READING:
            assert (said.value is None) == bool(said.flags)
            assert said.value is None or said.value.is_finite()
