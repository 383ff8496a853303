"""The two layouts, held against the worked lines of their public description."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

import pytest

from simulators.gloss import TRAP, GlossDevice, Surface, gloss_device


def press_meter(**options: Any) -> GlossDevice:
    return gloss_device("press", serial="SH-0417", seed=1, repeatability_sd=0, **options)


def asked_meter() -> GlossDevice:
    return gloss_device("asked", serial="DK-2205", seed=1, repeatability_sd=0)


def lay(device: GlossDevice, **gloss: float) -> None:
    """Set the meter on a surface without scatter: ``at20=91.4``."""
    values = {int(name.removeprefix("at")): value for name, value in gloss.items()}
    device.meter.place(Surface("exact", MappingProxyType(values)))


def press_on(device: GlossDevice, value: float) -> bytes:
    lay(device, at20=value, at60=value, at85=value)
    return device.press()


def test_the_worked_lines_of_the_press_layout_are_sent_byte_for_byte() -> None:
    meter = press_meter()
    meter.power(False)
    assert meter.power(True) == b"B,SH-0417,1.4*5D\r\n"
    assert press_on(meter, 91.4) == b"R,0001,20,91.4,GU*51\r\n"
    assert press_on(meter, 52.6) == b"R,0002,20,52.6,GU*5F\r\n"
    assert press_on(meter, 0.0) == b"R,0003,20,0.0,GU*6F\r\n"
    assert press_on(meter, 131.5) == b"R,0004,20,----,GU*46\r\n"
    lay(meter, at20=91.4)
    assert meter.adjust({20: 91.4}) == b"A,0004*69\r\n"
    assert meter.receive(b"I?\r\n") == b"I,SH-0417*51\r\n"
    meter.meter.lamp_works = False
    assert meter.press() == b"E,0005,LAMP*50\r\n"


def test_the_worked_lines_of_the_asked_layout_are_sent_byte_for_byte() -> None:
    meter = asked_meter()
    assert meter.receive(b"?\r") == b"NONE\r"
    assert press_on(meter, 88.3) == b""
    assert meter.receive(b"?\r") == b"1 60   88,3 GU\r"
    lay(meter, at60=100.2)
    assert meter.receive(b"M\r") == b"2 60  100,2 GU\r"
    press_on(meter, 131.5)
    assert meter.receive(b"?\r") == b"3 60 OVER\r"
    assert meter.receive(b"S\r") == b"S DK-2205\r"
    lay(meter, at60=95.0)
    assert meter.adjust({60: 95.0}) == b""
    assert meter.receive(b"S\r") == b"ADJ\rS DK-2205\r"
    assert meter.receive(b"S\r") == b"S DK-2205\r"


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (-0.04, b",0.0,"),
        (-0.06, b",-0.1,"),
        (-12.34, b",-12.3,"),
        (0.06, b",0.1,"),
        (9.96, b",10.0,"),
        (120.04, b",120.0,"),
        (120.06, b",----,"),
    ],
)
def test_a_value_has_one_decimal_and_a_sign_only_below_zero(value: float, shown: bytes) -> None:
    meter = press_meter()
    meter.meter.drifts[20].offset = min(value, 0.0)
    assert shown in press_on(meter, max(value, 0.0))


def test_a_value_of_the_asked_layout_fills_six_characters() -> None:
    meter = asked_meter()
    meter.meter.drifts[60].offset = -0.2
    lay(meter, at60=0.0)
    assert meter.receive(b"M\r") == b"1 60   -0,2 GU\r"
    meter.meter.drifts[60].offset = -100.0
    assert meter.receive(b"M\r") == b"2 60 -100,0 GU\r"


def test_one_press_of_three_geometries_is_three_lines_of_one_count() -> None:
    meter = press_meter(angles=(20, 60, 85))
    lay(meter, at20=91.4, at60=95.8, at85=98.2)
    expected = b"R,0001,20,91.4,GU*51\r\nR,0001,60,95.8,GU*5D\r\nR,0001,85,98.2,GU*51\r\n"
    assert meter.press() == expected


def test_the_count_wraps_from_9999_to_1_and_begins_anew_at_power_on() -> None:
    meter = press_meter()
    meter.meter.count = 9998
    assert press_on(meter, 85.0) == b"R,9999,20,85.0,GU*51\r\n"
    assert press_on(meter, 85.1) == b"R,0001,20,85.1,GU*51\r\n"
    meter.power(False)
    meter.power(True)
    assert press_on(meter, 91.4) == b"R,0001,20,91.4,GU*51\r\n"


def test_a_meter_with_its_memory_on_repeats_its_last_result_at_power_on() -> None:
    meter = press_meter(memory=True)
    meter.meter.count = 41
    press_on(meter, 87.3)
    meter.meter.lift()
    assert meter.press().startswith(b"E,0043,LIFT*")
    echo = b"B,SH-0417,1.4*5D\r\nR,0042,20,87.3,GU*56\r\n"
    for _ in range(2):
        meter.power(False)
        assert meter.power(True) == echo
    assert press_on(meter, 87.9) == b"R,0001,20,87.9,GU*5B\r\n"


def test_a_meter_with_its_memory_on_has_nothing_to_repeat_before_its_first_press() -> None:
    meter = press_meter(memory=True)
    meter.power(False)
    assert meter.power(True) == b"B,SH-0417,1.4*5D\r\n"


def test_a_lifted_meter_gives_no_reading() -> None:
    meter = press_meter()
    assert meter.press().startswith(b"E,0001,LIFT*")


def test_a_failed_press_of_the_asked_layout_leaves_the_old_result_with_its_old_count() -> None:
    meter = asked_meter()
    assert meter.receive(b"M\r") == b"NONE\r"
    press_on(meter, 88.3)
    meter.meter.lift()
    assert meter.receive(b"M\r") == b"2 60   88,3 GU\r"
    assert press_on(meter, 88.3) == b""
    assert meter.receive(b"?\r") == b"4 60   88,3 GU\r"


def test_a_meter_without_power_neither_measures_nor_answers() -> None:
    for meter, question in ((press_meter(), b"I?\r\n"), (asked_meter(), b"?\r")):
        meter.meter.place(TRAP)
        meter.power(False)
        assert meter.press() == b""
        assert meter.last_press is None
        assert meter.receive(question) == b""
        with pytest.raises(ValueError, match="off"):
            meter.adjust({meter.meter.angles[0]: 0.0})


def test_an_asked_meter_forgets_its_result_and_its_adjustment_at_power_on() -> None:
    meter = asked_meter()
    press_on(meter, 88.3)
    meter.adjust({60: 88.3})
    meter.power(False)
    assert meter.power(True) == b""
    assert meter.receive(b"?\r") == b"NONE\r"


@pytest.mark.parametrize(
    "junk", [b"", b"i?", b"I", b"I??", b" I?", b"\xff\x00", b"I?\n", b"I?\rI?"]
)
def test_a_press_meter_ignores_what_is_no_command(junk: bytes) -> None:
    assert press_meter().receive(junk + b"\r\n") == b""


@pytest.mark.parametrize("junk", [b"", b"m", b"? ", b"\n?", b"SS", b"\xff", b"x" * 1000])
def test_an_asked_meter_answers_err_to_what_is_no_command(junk: bytes) -> None:
    meter = asked_meter()
    assert meter.receive(junk + b"\r") == b"ERR\r"
    assert meter.receive(b"S\r") == b"S DK-2205\r"


def test_commands_come_in_any_chunks() -> None:
    meter = press_meter()
    answers = [meter.receive(bytes([byte])) for byte in b"I?\r\nI?\r\n"]
    answer = b"I,SH-0417*51\r\n"
    assert answers == [b"", b"", b"", answer, b"", b"", b"", answer]
    assert press_meter().receive(b"I?\r\nx\r\nI?\r\n") == 2 * answer


@pytest.mark.parametrize("length", [60, 63, 64, 65, 66, 1000])
def test_a_command_too_long_to_be_any_spoils_only_itself(length: int) -> None:
    whole, single = press_meter(), press_meter()
    data = b"I?" * (length // 2) + b"\r\nI?\r\n"
    assert whole.receive(data) == b"I,SH-0417*51\r\n"
    assert b"".join(single.receive(bytes([b])) for b in data) == b"I,SH-0417*51\r\n"


def test_half_a_command_is_forgotten_at_power_off() -> None:
    meter = press_meter()
    meter.receive(b"I?\r")
    meter.power(False)
    meter.power(True)
    assert meter.receive(b"\n") == b""


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"layout": "press", "angles": (45,)}, "wanted some of"),
        ({"layout": "press", "angles": (20, 20)}, "once each"),
        ({"layout": "asked", "angles": (20,)}, "wanted \\[60\\]"),
        ({"layout": "asked", "memory": True}, "never sends on its own"),
        ({"layout": "spoken"}, "wanted one of press, asked"),
    ],
)
def test_a_meter_that_its_layout_does_not_know_is_refused(
    options: dict[str, Any], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        gloss_device(options.pop("layout"), serial="X", seed=1, **options)
