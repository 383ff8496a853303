"""Report descriptors of the HID class: what their items mean, and what is done with odd ones.

Descriptors are written by hand from USB HID 1.11, 6.2.2 and its appendices (from memory).
"""

from __future__ import annotations

import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.wire.hid_field import Field, ReportKind, usage, usage_shown
from acquire.wire.hid_items import ItemType, items
from acquire.wire.hid_reports import LONGEST_REPORT_BYTES, MOST_FIELDS, ReportMap, report_map


def read(text: str) -> ReportMap:
    return report_map(bytes.fromhex(text))


def only(text: str) -> Field:
    (field,) = read(text).fields
    return field


# HID 1.11, appendix E.10: the mouse of the worked example (from memory).
MOUSE = (
    "05 01 09 02 a1 01 09 01 a1 00 05 09 19 01 29 03 15 00 25 01 95 03 75 01 81 02"
    "95 01 75 05 81 01 05 01 09 30 09 31 15 81 25 7f 75 08 95 02 81 06 c0 c0"
)


def test_the_mouse_of_the_standard_has_three_buttons_and_two_axes() -> None:
    mouse = read(MOUSE)
    shown = [(usage_shown(f.usage), f.bit, f.bits, f.least, f.most) for f in mouse.fields]
    assert shown == [
        ("0009:0001", 0, 1, 0, 1),
        ("0009:0002", 1, 1, 0, 1),
        ("0009:0003", 2, 1, 0, 1),
        ("0001:0030", 8, 8, -127, 127),
        ("0001:0031", 16, 8, -127, 127),
    ]
    assert mouse.length(ReportKind.INPUT, 0) == 3
    assert (mouse.applications, mouse.remarks, mouse.has_ids) == ((usage(1, 2),), (), False)
    report = int.from_bytes(bytes([0b101, 0xFE, 0x7F]), "little")
    assert [f.value(report) for f in mouse.fields] == [1, 0, 1, -2, 127]
    assert mouse.fields[0].collections == (usage(1, 2), usage(1, 1))


def test_items_have_types_tags_and_little_endian_data() -> None:
    found, fault = items(bytes.fromhex("27 ff ff 00 00 c0 fe 02 33 aa bb 16 18 fc"))
    assert fault == ""
    assert [(i.type, i.tag) for i in found] == [
        (ItemType.GLOBAL, 2),
        (ItemType.MAIN, 0xC),
        (ItemType.RESERVED, 0x33),
        (ItemType.GLOBAL, 1),
    ]
    assert (found[0].unsigned, found[3].signed) == (65535, -1000)


@pytest.mark.parametrize("text", ["27 ff ff", "05", "fe 04", "fe", "fe 04 33 aa"])
def test_a_descriptor_that_ends_within_an_item_says_so(text: str) -> None:
    assert any("ends within" in remark for remark in read(text).remarks)


def test_an_array_selects_a_usage_by_its_value() -> None:
    field = only("05 8d 75 08 95 01 15 01 25 08 19 71 29 78 81 00")
    assert field.is_array
    assert [field.selected(value) for value in (1, 4, 8, 9, 0)] == [
        usage(0x8D, 0x71),
        usage(0x8D, 0x74),
        usage(0x8D, 0x78),
        0,
        0,
    ]
    assert (field.value(0), field.value(9), field.value(8)) == (None, None, 8)


def test_the_last_usage_is_that_of_all_further_fields() -> None:
    fields = read("05 09 15 00 25 01 75 01 95 04 09 05 09 07 81 02").fields
    assert [f.usage & 0xFF for f in fields] == [5, 7, 7, 7]


def test_a_usage_gets_the_page_that_stands_at_the_main_item() -> None:
    # 6.2.2.8: the last declared page; one of four bytes bears its own.
    fields = read("05 01 09 30 0b 02 00 0c 00 05 09 15 00 25 01 75 01 95 02 81 02").fields
    assert [usage_shown(f.usage) for f in fields] == ["0009:0030", "000C:0002"]


def test_local_items_end_with_each_main_item_and_global_ones_do_not() -> None:
    fields = read("05 09 15 00 25 01 75 01 95 01 09 01 81 02 81 02").fields
    assert [f.usage for f in fields] == [usage(9, 1), 0]
    assert [f.most for f in fields] == [1, 1]


def test_push_and_pop_keep_all_global_items() -> None:
    text = "05 09 15 00 25 01 75 01 95 01 a4 05 01 25 7f 75 08 85 05 09 30 81 02 b4 09 02 81 02"
    inner, outer = read("85 01 " + text).fields
    assert (inner.report, inner.bits, inner.most, inner.usage) == (5, 8, 127, usage(1, 0x30))
    assert (outer.report, outer.bits, outer.most, outer.usage) == (1, 1, 1, usage(9, 2))


def test_reports_with_numbers_begin_with_it_and_are_counted_each() -> None:
    text = "05 09 15 00 25 01 75 08 95 01 85 01 09 01 81 02 85 02 09 02 81 02 85 01 09 03 81 02"
    reports = read(text)
    assert [(f.report, f.bit) for f in reports.fields] == [(1, 8), (2, 8), (1, 16)]
    assert reports.has_ids
    assert [reports.length(ReportKind.INPUT, n) for n in (0, 1, 2, 3)] == [None, 3, 2, None]


def test_input_output_and_feature_are_laid_out_on_their_own() -> None:
    reports = read("05 09 15 00 25 01 75 08 95 01 09 01 81 02 09 02 91 02 09 03 b1 02")
    assert [(f.kind.value, f.bit) for f in reports.fields] == [(1, 0), (2, 0), (3, 0)]


@pytest.mark.parametrize(
    ("extents", "least", "most"),
    [
        ("15 00 25 ff", 0, 255),
        ("15 00 26 ff ff", 0, 65535),
        ("15 00 27 ff ff ff ff", 0, 4294967295),
        ("15 81 25 7f", -127, 127),
        ("16 00 80 26 ff 7f", -32768, 32767),
        ("15 fe 25 ff", -2, -1),
    ],
)
def test_extents_are_signed_where_the_lower_one_is(extents: str, least: int, most: int) -> None:
    field = only(f"05 09 {extents} 75 20 95 01 09 01 81 02")
    assert (field.least, field.most) == (least, most)


@pytest.mark.parametrize(
    ("code", "power"), [("05", 5), ("08", -8), ("0f", -1), ("07", 7), ("fe", -2), ("00", 0)]
)
def test_a_unit_exponent_is_a_nibble_or_a_signed_number(code: str, power: int) -> None:
    # HID 1.11, 6.2.2.7, table of exponents: 8 is -8, Fh is -1.
    field = only(f"05 09 15 00 25 01 55 {code} 66 11 e1 75 08 95 01 09 01 81 02")
    assert (field.exponent, field.unit) == (power, 0xE111)


def test_physical_extents_are_the_logical_ones_where_there_are_none() -> None:
    plain = only("05 09 15 00 25 64 75 08 95 01 09 01 81 02")
    assert plain.physical == (0, 100)
    other = only("05 09 15 00 25 64 35 ce 45 32 75 08 95 01 09 01 81 02")
    assert other.physical == (-50, 50)


def test_of_a_set_of_alternatives_the_first_usage_counts() -> None:
    fields = read("05 09 15 00 25 01 75 01 95 02 a9 01 09 01 09 02 a9 00 09 03 81 02").fields
    assert [f.usage & 0xFF for f in fields] == [1, 3]


def test_filling_is_no_field_but_takes_its_bits() -> None:
    field = only("05 09 15 00 25 01 75 05 95 01 81 03 75 01 09 01 81 02")
    assert field.bit == 5


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        ("b4", "popped that was never pushed"),
        ("c0", "ends that never began"),
        ("a1 01", "has no end"),
        ("a4" * 40, "states are pushed"),
        ("a1 01" * 40, "nested more than"),
        ("85 00", "report id 0 is none"),
        ("86 00 01", "report id 256 is none"),
        ("75 08 95 00 81 02", "without bits"),
        ("15 05 25 02 75 08 95 01 81 02", "extents 5 to 2"),
        ("75 ff 95 01 81 02", "is no number"),
        ("75 08 95 01 82 02 01", "is no number"),
        ("75 08 95 01 81 02 85 01 81 02", "before the first report id"),
        ("cc", "reserved type"),
        ("d0", "main item with the reserved tag Dh"),
        ("f4", "global item with the reserved tag Fh"),
        ("b8", "local item with the reserved tag Bh"),
        ("19 05 29 02", "range of usages that is none"),
        ("09 01" * 300, "usages stand before one main item"),
        ("75 08 97 ff ff ff 7f 81 02", f"longer than {LONGEST_REPORT_BYTES} bytes"),
        ("15 00 25 01 75 01 96 00 20 81 02", f"more than {MOST_FIELDS} fields"),
    ],
)
def test_what_is_not_understood_is_said_in_plain_words(text: str, remark: str) -> None:
    remarks = read(text).remarks
    assert any(remark in one for one in remarks), remarks


def test_a_field_behind_one_that_is_passed_over_is_where_it_is() -> None:
    field = only("05 09 15 05 25 02 75 08 95 01 09 01 81 02 15 00 25 01 09 02 81 02")
    assert (field.usage, field.bit) == (usage(9, 2), 8)


DATA = st.binary(max_size=4).map(lambda data: data if len(data) != 3 else data + b"\0")


def short(prefix: int, data: bytes) -> bytes:
    return bytes([prefix & 0xFC | {0: 0, 1: 1, 2: 2, 4: 3}[len(data)]]) + data


LIKELY = st.sampled_from([0x80, 0x90, 0xB0, 0xA0, 0xC0, 0x04, 0x14, 0x24, 0x74, 0x84, 0x94, 0x08])
ITEMS = st.builds(short, st.one_of(LIKELY, st.integers(0, 255)), DATA)


@given(st.one_of(st.binary(max_size=300), st.lists(ITEMS, max_size=120).map(b"".join)),
       st.binary(max_size=64))  # fmt: skip
def test_whatever_a_descriptor_says_values_lie_within_its_extents(
    descriptor: bytes, report: bytes
) -> None:
    reports = report_map(descriptor)
    assert len(reports.fields) <= MOST_FIELDS
    whole = int.from_bytes(report, "little")
    for field in reports.fields:
        bits = reports.bits[field.kind, field.report]
        assert 0 <= field.bit <= field.bit + field.bits <= bits <= 8 * LONGEST_REPORT_BYTES
        value = field.value(whole)
        assert value is None or field.least <= value <= field.most
        assert field.selected(value or 0) == 0 or field.has(field.selected(value or 0))


def test_a_descriptor_made_to_grow_stays_small() -> None:
    worst = bytes.fromhex("0b 00 00 00 00 0b 00 00 00 00") + bytes.fromhex(
        "1b 00 00 00 00 2b ff ff ff ff 15 00 25 01 75 01 97 00 80 00 00 81 02"
    )
    tracemalloc.start()
    reports = report_map(worst * 130)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(reports.fields) <= MOST_FIELDS
    assert peak < 16_000_000
