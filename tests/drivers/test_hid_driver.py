"""How the hid driver behaves with devices of other makes, in what they leave out and refuse."""

from __future__ import annotations

import struct
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import Driver
from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.model import Fact, Flag, Instant, Noise, Notice, NoticeKind, Reading
from acquire.wire.transfer import Description, Pipe, Status, Transfer, TransferReader, record
from drivers.hid import FAMILY
from tests.captures import profile

GET_DESCRIPTOR = bytes.fromhex("81 06 00 22 00 00 00 10")
# Status and unit as bits of their own, the weight by 16 signed bits, and counts of calibrations.
BITS = (
    "05 8d 09 01 a1 01 15 00 25 01 75 01 95 08 19 71 29 78 81 02"
    "95 02 19 52 29 53 81 02 95 06 81 03"
    "16 00 80 26 ff 7f 75 10 95 01 09 40 81 02 15 00 26 ff 00 75 08 09 60 81 02 c0"
)
STATUS_APART = (
    "05 8d 09 01 a1 01 75 08 95 01"
    "85 01 15 01 25 08 19 71 29 78 81 00"
    "85 02 25 0c 19 51 29 5c 81 00 15 00 26 ff 00 09 41 81 02 75 10 27 ff ff 00 00 09 40 81 02 c0"
)


class Device:
    """A device told by its bytes, and a driver connected to it."""

    def __init__(self, table: dict[str, Any], descriptor: str, packet_bytes: int = 8) -> None:
        self.driver: Driver = FAMILY.driver(table, "test")
        self.now = START
        self._guard = Guard("hid", START)
        self._reader = TransferReader()
        self.sent: list[Transfer] = []
        assert self.driver.opening(START) == b""
        device = Description(0, 0, 0, 0x81, packet_bytes, 0, "")
        self.facts = self.get(record(Pipe.OPENED, device.to_bytes()))
        self.facts += self.get(record(Pipe.CONTROL, GET_DESCRIPTOR + bytes.fromhex(descriptor)))

    def get(self, data: bytes, after_s: float = 0.0) -> list[Fact]:
        ns = round(after_s * 1e9)
        self.now = Instant(self.now.utc_ns + ns, self.now.mono_ns + ns)
        facts = self._guard.facts(self.driver.feed(data, self.now), data, self.now)
        self.sent += self._reader.feed(self.driver.due(self.now).send)
        return facts

    def reports(self, *reports: str, after_s: float = 0.0) -> list[Fact]:
        packets = [record(Pipe.INTERRUPT_IN, bytes.fromhex(one)) for one in reports]
        return self.get(b"".join(packets), after_s)


def weighing(**press: Any) -> dict[str, Any]:
    table = profile("hid-weighing")
    table["press"] = {"by": "report"} | press
    return table


def texts(facts: list[Fact]) -> list[str]:
    return [fact.text for fact in facts if isinstance(fact, Reading | Notice)]


def test_status_and_unit_may_be_bits_of_their_own() -> None:
    device = Device(weighing(), BITS)
    (reading,) = device.reports("08 01 f4 01 00")
    assert isinstance(reading, Reading)
    assert (reading.value, reading.unit) == (Decimal(500), "gram_force")
    (kilograms,) = device.reports("08 02 01 00 00")
    assert isinstance(kilograms, Reading)
    assert kilograms.unit == "kilogram_force"
    (nothing,) = device.reports("08 03 f4 01 00")
    assert isinstance(nothing, Noise)
    assert nothing.reason == "no unit of weight, or several"


def test_a_weight_below_zero_is_a_number_where_the_device_has_a_sign() -> None:
    (reading,) = Device(weighing(), BITS).reports("08 01 0c fe 00")
    assert isinstance(reading, Reading)
    assert reading.text == "-500"


def test_under_zero_is_under_range_and_no_number() -> None:
    (reading,) = Device(weighing(), BITS).reports("10 01 f4 01 00")
    assert isinstance(reading, Reading)
    assert (reading.value, reading.flags) == (None, {Flag.UNDER_RANGE})


def test_out_of_range_is_told_even_where_there_is_no_number_any_more() -> None:
    odd = BITS.replace("16 00 80 26 ff 7f", "16 18 fc 26 e8 03")
    (reading,) = Device(weighing(), odd).reports("20 01 ff 7f 00")
    assert isinstance(reading, Reading)
    assert (reading.value, reading.flags) == (None, {Flag.OVER_RANGE})
    assert Device(weighing(), odd).reports("08 01 ff 7f 00") == []


def test_a_count_of_calibrations_that_changes_is_a_readjustment() -> None:
    device = Device(weighing(), BITS)
    assert texts(device.reports("08 01 f4 01 03")) == ["500"]
    facts = device.reports("08 01 f4 01 04", after_s=1)
    assert [f.kind for f in facts if isinstance(f, Notice)] == [NoticeKind.ADJUSTED]
    assert len(device.reports("08 01 f4 01 04", after_s=1)) == 1


def test_a_press_in_motion_or_at_fault_is_told_and_no_reading() -> None:
    device = Device(weighing(), BITS)
    assert texts(device.reports("04 01 f4 01 00")) == [
        "a press is no reading: the value was in motion"
    ]
    assert texts(device.reports("01 01 f4 01 00")) == [
        "it reports a fault",
        "a press is no reading: it had a fault",
    ]


def test_a_status_in_a_report_of_its_own_holds_for_the_weights_behind_it() -> None:
    table = profile("hid-weighing")
    table["press"] = {"by": "stable"}
    device = Device(table, STATUS_APART)
    assert device.reports("02 02 ff 88 13") == []
    assert device.reports("01 03", "02 02 ff 88 13", "01 04") == []
    assert texts(device.reports("02 02 ff 87 13", "02 02 ff 88 13")) == ["499.9"]


def test_a_device_without_the_usages_is_given_up_with_the_next_step() -> None:
    device = Device(weighing(), "06 00 ff 09 01 a1 01 15 00 25 7f 75 08 95 01 09 02 81 02 c0 b4")
    (told,) = device.facts
    assert isinstance(told, Notice)
    assert "no input field is a weight with its unit" in told.text
    assert "a state is popped that was never pushed" in told.text
    assert "next: mend the profile" in told.text
    assert device.reports("05") == []


def test_a_keypad_beside_figures_does_not_hide_them() -> None:
    keys = "05 01 09 06 a1 01 85 09 05 07 19 e0 29 e7 15 00 25 01 75 01 95 08 81 02 c0"
    device = Device(weighing(), keys + STATUS_APART)
    assert texts(device.reports("09 02", "01 04", "02 02 ff 88 13")) == ["500.0"]


def test_a_media_key_beside_a_keyboard_does_not_make_it_a_device_of_figures() -> None:
    keys = "05 01 09 06 a1 01 85 09 05 07 19 e0 29 e7 15 00 25 01 75 01 95 08 81 02 c0"
    media = "05 0c 09 01 a1 01 85 0a 09 e9 95 01 75 08 81 02 c0"
    (told,) = Device(weighing(), keys + media).facts
    assert isinstance(told, Notice)
    assert told.text.startswith("it types its readings")


def test_a_driver_that_was_never_opened_says_whether_a_reading_can_be_asked_for() -> None:
    # The session asks a driver of its own that; no device is known to it.
    assert FAMILY.driver(profile("hid-weighing"), "test").take(START)
    table = profile("hid-weighing")
    table.pop("take")
    assert FAMILY.driver(table, "test").take(START) == b""


def test_a_take_before_the_device_is_known_is_asked_when_it_is() -> None:
    driver = FAMILY.driver(profile("hid-weighing"), "test")
    driver.opening(START)
    assert driver.take(START) == b""
    opened = record(Pipe.OPENED, Description(0, 0, 0, 0x81, 8, 0, "").to_bytes())
    driver.feed(opened, START)
    assert driver.take(START) == b""
    assert GET_DESCRIPTOR in driver.due(START).send
    driver.feed(record(Pipe.CONTROL, GET_DESCRIPTOR + bytes.fromhex(STATUS_APART)), START)
    (asked,) = TransferReader().feed(driver.due(START).send)
    assert asked.data[:4] == bytes.fromhex("a1 01 03 01")
    assert driver.due(START).send == b""


def test_nothing_is_sent_between_two_packets_of_a_report() -> None:
    long = BITS.removesuffix("c0") + "95 0a 81 03 c0"
    table = weighing() | {"take": {"report": 0}}
    device = Device(table, long)
    device.reports("08 01 f4 01 00 00 00 00")
    assert device.driver.take(device.now) == b""
    due = device.driver.due(device.now)
    assert due.send == b""
    assert due.again is not None
    assert texts(device.reports("00 00 00 00 00 00 00")) == ["500"]
    assert device.sent[-1].data[:2] == b"\xa1\x01"


def test_feature_reports_are_read_by_a_take() -> None:
    table = profile("hid-force")
    table |= {"press": {"by": "take"}, "take": {"report": 4, "kind": "feature"}, "flag": []}
    feature = "06 00 ff 09 10 a1 01 85 04 15 9c 25 64 75 08 95 01 55 04 66 11 e1 09 20 b1 02 c0"
    device = Device(table, feature)
    assert device.facts == []
    (asked,) = TransferReader().feed(device.driver.take(device.now))
    assert asked.data == bytes.fromhex("a1 01 04 03 00 00 02 00")
    (reading,) = device.get(record(Pipe.CONTROL, asked.data + b"\x04\xfb"))
    assert isinstance(reading, Reading)
    assert (reading.text, reading.unit) == ("-0.5", "newton")
    (short,) = device.get(record(Pipe.CONTROL, asked.data + b"\x04"))
    assert isinstance(short, Noise)


def test_a_declared_step_without_end_of_decimals_is_cut_and_a_mass_is_no_force() -> None:
    field = "06 00 ff 09 10 a1 01 15 00 25 03 35 00 45 01 {} 75 08 95 01 09 20 81 02 c0"
    table = profile("hid-force")
    table |= {"press": {"by": "report"}, "flag": []}
    (reading,) = Device(table, field.format("55 05 66 11 e1")).reports("02")
    assert isinstance(reading, Reading)
    assert reading.text == "0.6667"
    (told,) = Device(table, field.format("66 01 01")).facts
    assert isinstance(told, Notice)
    assert "unit 101h, which is no newton; write unit and scale" in told.text


@pytest.mark.parametrize(
    ("kind", "order", "data", "text"),
    [
        ("int16", "little", "85 ff", "-12.3"),
        ("int16", "big", "ff 85", "-12.3"),
        ("uint8", "little", "7b", "12.3"),
        ("int8", "little", "85", "-12.3"),
        ("uint32", "big", "00 01 86 a0", "10000.0"),
        ("int32", "little", "60 79 fe ff", "-10000.0"),
        ("float32", "little", struct.pack("<f", 91.4).hex(" "), "9.14"),
    ],
)
def test_numbers_by_place_are_read_in_each_form(
    kind: str, order: str, data: str, text: str
) -> None:
    value = {"report": 0, "byte": 1, "type": kind, "order": order, "unit": "newton"}
    value |= {"scale": Decimal("0.1")}
    table = {"kind": "force", "press": {"by": "report"}, "value": [value]}
    size = 1 + len(bytes.fromhex(data))
    device = Device(table, f"06 00 ff 09 01 15 00 26 ff 00 75 08 95 {size:02x} 81 02")
    (reading,) = device.reports("aa " + data)
    assert isinstance(reading, Reading)
    assert Decimal(text) == reading.value


def test_a_float_that_is_no_number_is_noise() -> None:
    value = {"report": 0, "byte": 0, "type": "float32", "unit": "newton"}
    table = {"kind": "force", "press": {"by": "report"}, "value": [value]}
    device = Device(table, "06 00 ff 09 01 15 00 26 ff 00 75 08 95 04 81 02")
    for odd in (float("nan"), float("inf"), 1e35):
        (noise,) = device.reports(struct.pack("<f", odd).hex())
        assert isinstance(noise, Noise)


def test_a_pipe_that_stays_broken_is_told() -> None:
    device = Device(weighing(), BITS)
    (told,) = device.get(record(Pipe.INTERRUPT_IN, b"", Status.FAILED))
    assert texts([told]) == ["its reports cannot be read: unplug it and plug it in again"]


def test_a_damaged_tape_is_noise_from_the_damage_on() -> None:
    device = Device(weighing(), BITS)
    device.get(b"\xee" * 5000)
    last = device.driver.lost(device.now)
    assert all(isinstance(fact, Noise) for fact in last)
    assert device.driver.due(device.now).send == b""


def test_idle_is_set_where_the_profile_says_so_and_may_be_refused() -> None:
    table = weighing() | {"usb": {"idle_s": Decimal("0.1")}}
    device = Device(table, BITS)
    (idle,) = [one for one in device.sent if one.data[:2] == b"\x21\x0a"]
    assert idle.data == bytes.fromhex("21 0a 00 19 00 00 00 00")
    assert device.get(record(Pipe.CONTROL, idle.data, Status.STALLED)) == []
    assert texts(device.reports("08 01 f4 01 00")) == ["500"]


def test_a_trouble_is_told_at_its_onset_whatever_joins_it() -> None:
    device = Device(weighing(), BITS)
    assert texts(device.reports("40 01 f4 01 00"))[0].startswith("it has to be calibrated")
    both = texts(device.reports("c0 01 f4 01 00", after_s=1))
    assert [text[:26] for text in both] == [
        "it has to be set to zero b",
        "a press is no reading: it ",
    ]


def test_what_comes_before_it_is_set_up_is_noise() -> None:
    descriptor = "06 00 ff 09 01 a1 01 85 01 15 00 26 ff 00 75 08 95 09 09 02 81 02 c0"
    device = Device(profile("hid-gloss"), descriptor, packet_bytes=64)
    press = "01 00 07 00 92 03 bc 03 e9 03"
    (noise,) = device.reports(press)
    assert isinstance(noise, Noise)
    assert noise.reason == "it came before the device was known and set up"
    device.get(record(Pipe.CONTROL, bytes.fromhex("21 09 02 03 00 00 02 00")))
    assert texts(device.reports(press)) == ["91.4", "95.6", "100.1"]


def test_a_scaling_outside_what_is_declared_is_a_signed_exponent_all_the_same() -> None:
    narrow = STATUS_APART.replace("15 00 26 ff 00 09 41", "15 00 25 0c 09 41")
    device = Device(weighing(), narrow)
    assert texts(device.reports("01 04", "02 02 ff 88 13")) == ["500.0"]


def test_a_pull_into_which_a_lost_packet_broke_is_none() -> None:
    table = profile("hid-force")
    table |= {"press": {"by": "stream"}, "flag": []}
    pull = {"begins_at": 2, "ends_below": 1, "ends_after_s": Decimal("0.002")}
    table["stream"] = {"rate_hz": 1000, "step": Decimal("0.1"), "pull": pull}
    del table["take"]
    whole = (
        "06 00 ff 09 10 a1 01 16 18 fc 26 e8 03 36 9c ff 46 64 00 55 05 66 11 e1"
        "75 10 95 01 09 20 81 02 c0"
    )
    device = Device(table, whole)
    up, down = ["00 00", "32 00", "5a 00"], ["00 00", "00 00", "00 00"]
    assert texts(device.reports(*up, *down)) == ["9.0"]
    device.reports(*up)
    device.get(record(Pipe.INTERRUPT_IN, b"", Status.STALLED))
    assert texts(device.reports(*down)) == []
    assert texts(device.reports(*up, *down)) == ["9.0"]


def test_a_take_that_waited_is_asked_once() -> None:
    driver = FAMILY.driver(profile("hid-weighing"), "test")
    driver.opening(START)
    driver.take(START)
    opened = record(Pipe.OPENED, Description(0, 0, 0, 0x81, 8, 0, "").to_bytes())
    opened += record(Pipe.CONTROL, GET_DESCRIPTOR + bytes.fromhex(STATUS_APART))
    for wanted in (1, 0):
        driver.feed(opened, START)
        assert driver.due(START).send.count(bytes.fromhex("a1 01 03 01")) == wanted
