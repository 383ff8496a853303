"""Lines and frames in which three presses look like something that the fourth is not."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
ABOUT = {
    "gloss": About(Quantity.GLOSS, unit="gloss_unit", channel="60"),
    "force": About(Quantity.FORCE, unit="newton"),
}
SHOWN = "91.4 45.2 12.0"


def taught(sent: list[bytes], shown: str, about: str | About = "gloss") -> Finding:
    numbers = map(Decimal, shown.split())
    known = ABOUT[about] if isinstance(about, str) else about
    return learn([Press(*one) for one in zip(sent, numbers, strict=True)], known, REGISTRY)


def read(found: Finding, data: bytes) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [data], REGISTRY)
    return [f"{one.value:f} {one.unit}" for one in here]


def lines(*texts: str) -> list[bytes]:
    return [f"{text}\r\n".encode("latin-1") for text in texts]


def frames(*texts: str) -> list[bytes]:
    return [bytes.fromhex(text) for text in texts]


@pytest.mark.parametrize(
    ("sent", "shown", "kind", "other"),
    [
        (lines("T 26 75.6", "T 27 22.0", "T 28 57.7"), "75.6 22.0 57.7", "gloss", "T 28118.7"),
        (lines(" 21 91.4", " 23 45.2", " 22 12.0"), SHOWN, "gloss", " 22100.0"),
        (lines("91.4 23.4", "45.2 23.9", "12.0 24.6"), SHOWN, "force", "33.3-22.1"),
        (lines("1:00:21:91.4", "1:00:21:45.2", "1:00:22:12.0"), SHOWN, "gloss", "1:07:21:33.3"),
        (lines("60/1/6/91.4", "60/1/6/45.2", "60/1/6/12.0"), SHOWN, "gloss", "20/1/6/33.3"),
        (lines("60/1/6/91.4", "60/1/6/45.2", "60/1/6/12.0"), SHOWN, "gloss", "60/9/6/33.3"),
        (lines("91.4,0B2", "45.2,02E", "12.0,071"), SHOWN, "gloss", "33.3,9A4"),
        (lines("91.4,021.5", "45.2,022.1", "12.0,021.9"), SHOWN, "gloss", "33.3,921.8"),
        (lines("91.4,21", "45.2,23", "12.0,22"), SHOWN, "gloss", "33.3,FFFF"),
        (lines("91.4 GU", "45.2 GU", "12.0 GU"), SHOWN, "gloss", "33.3 GU\r\n44.4 GU"),
    ],
)
def test_a_line_that_may_say_something_else_is_noise(
    sent: list[bytes], shown: str, kind: str, other: str
) -> None:
    about = replace(ABOUT[kind], settled=3)
    assert read(taught(sent, shown, about), *lines(other)) == []


def test_a_unit_that_changes_is_read_by_the_table() -> None:
    found = taught(lines("912 N", "1.204 kN", "455 N"), "912 1.204 455", "force")
    assert read(found, b"1.111 kN\r\n") == ["1.111 kilonewton"]
    assert read(found, b"33 N\r\n") == ["33 newton"]
    assert read(found, b"99999 N\r\n") == []
    assert tomllib.loads(found.profile)["unit"]["tokens"] == {"N": "newton", "kN": "kilonewton"}


def test_a_unit_that_is_not_known_beside_one_that_is_is_asked_for() -> None:
    found = taught(lines("912 N", "1.204 kp", "455 N"), "912 1.204 455", "force")
    assert found.outcome is Outcome.MORE
    assert "not all of it is a unit that is known" in found.believed[0]
    assert "set the meter to one unit" in found.next_step


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        (lines("88,07", "45,21", "12,43"), "88 45 12"),
        (lines("88,07", "8,02", "85,01"), "88.0 8.0 85.0"),
        (lines("88,07;A", "45,21;A", "12,43;A"), "88 45 12"),
    ],
)
def test_decimals_that_a_display_may_not_show_are_asked_for(sent: list[bytes], shown: str) -> None:
    found = taught(sent, shown)
    assert found.outcome is Outcome.MORE
    assert "decimals" in found.believed[0]


def test_a_press_that_would_be_rounded_up_tells_that_they_are_no_decimals() -> None:
    found = taught(lines("88,07;A", "45,21;A", "12,43;A", "30,91;A"), "88 45 12 30")
    assert read(found, b"97,75;A\r\n") == ["97 gloss_unit"]


def test_a_longer_number_whose_last_digit_is_not_shown_is_not_read() -> None:
    sent = lines("88.12 GU", "45.21 GU", "12.43 GU", "33.34 GU", "71.80 GU")
    found = taught(sent, "88.1 45.2 12.4 33.3 71.8")
    assert found.outcome is Outcome.MORE
    assert "glued to it" in found.believed[0]


def test_digits_that_may_be_hexadecimal_take_a_press_of_ten_or_more() -> None:
    found = taught(lines("#0005", "#0006", "#0003"), "5 6 3")
    assert found.outcome is Outcome.MORE
    assert found.tell_above == 10
    assert read(taught(lines("#0005", "#0006", "#0087"), "5 6 87"), b"#0057\r\n")


def test_numbers_that_only_rose_beside_an_unknown_one_take_a_press_below() -> None:
    rising = [("0032 50", "50"), ("0033 51", "51"), ("004D 77", "77")]
    found = taught(lines(*(a for a, _ in rising)), " ".join(b for _, b in rising))
    assert found.outcome is Outcome.MORE
    assert "only rose" in found.believed[0]
    fallen = [*rising, ("002A 42", "42")]
    found = taught(lines(*(a for a, _ in fallen)), " ".join(b for _, b in fallen))
    assert found.outcome is Outcome.SURE


def test_a_press_whose_lines_cannot_be_said_is_not_sure() -> None:
    sent = [b"91.4 GU\r\n", b"OK\r\n45.2 GU\r\n", b"12.0 GU\r\n"]
    assert taught(sent, SHOWN).outcome is Outcome.MORE


@pytest.mark.parametrize(
    ("form", "fields", "other"),
    [
        ("{0} GU,{1}%", (93, 92, 92), "33.3 GU,91%"),
        ("{1}C {0} GU", (24, 25, 25), "23C 33.3 GU"),
        ("T:{1}|{0}", (27, 27, 26), "T:29|33.3"),
        ("{0},{1}V", ("3.51", "3.50", "3.50"), "33.3,3.49V"),
        ("{0},{1}degC", ("21.5", "21.6", "21.5"), "33.3,22.9degC"),
    ],
)
def test_what_is_plainly_measured_beside_the_value_may_move(
    form: str, fields: tuple[object, ...], other: str
) -> None:
    sent = lines(*(form.format(v, f) for v, f in zip(SHOWN.split(), fields, strict=True)))
    assert read(taught(sent, SHOWN), *lines(other)) == ["33.3 gloss_unit"]


def test_a_bracket_in_a_line_is_a_sign_as_any_other() -> None:
    found = taught(lines("[91.4] GU", "[45.2] GU", "[12.0] GU"), SHOWN)
    assert read(found, b"[33.3] GU\r\n") == ["33.3 gloss_unit"]


@pytest.mark.parametrize(
    ("sent", "shown", "kind", "other"),
    [
        (frames("02039203", "0201C403", "02007803"), SHOWN, "gloss", "0203FF03"),
        (frames("02648D03", "023DC503", "0235FA03"), "2574.1 1581.3 1381.8", "force", "027FFF03"),
        (frames("02914003", "02452303", "02120703"), "91.40 45.23 12.07", "force", "02999903"),
    ],
)
def test_the_largest_number_that_a_field_can_bear_is_noise(
    sent: list[bytes], shown: str, kind: str, other: str
) -> None:
    assert read(taught(sent, shown, kind), *frames(other)) == []


def test_the_rest_of_a_wider_number_has_to_go_with_the_sign() -> None:
    """Of four bytes the low two come first: 46949 has its 16th bit set."""
    sent = frames("02013D0000D903", "02FAA7FFFFDA03", "0208110000DB03")
    far = About(Quantity.FORCE, unit="newton", least=Decimal(-500), most=Decimal(500))
    found = taught(sent, "3.17 -13.69 20.65", far)
    assert read(found, bytes.fromhex("02B7650000DC03")) == []
    assert read(found, bytes.fromhex("02FA45FFFFDC03")) == ["-14.67 newton"]
    assert read(found, bytes.fromhex("0205BBFFFFDC03")) == []


def test_a_sign_told_by_a_character_is_read_by_it() -> None:
    sent = frames("022D02C517", "022B032F16", "022B016116", "022D00C816")
    about = replace(ABOUT["force"], settled=4)
    found = taught(sent, "-70.9 81.5 35.3 -20.0", about)
    assert read(found, bytes.fromhex("022B016117")) == ["35.3 newton"]
    assert read(found, bytes.fromhex("022D016116")) == ["-35.3 newton"]
    assert read(found, bytes.fromhex("0220016116")) == []
    # Both bytes went with the sign so far.
    assert taught(sent[:3], "-70.9 81.5 35.3", "force").outcome is Outcome.MORE


def test_a_byte_of_zeros_beside_the_count_of_a_force_may_be_its_sign() -> None:
    sent = frames("AA0007038E", "AA000801C4", "AA00090078")
    found = taught(sent, "9.10 4.52 1.20", "force")
    assert read(found, bytes.fromhex("AA000A014D")) == ["3.33 newton"]
    assert read(found, bytes.fromhex("AA010B014D")) == []


def test_frames_that_only_rose_beside_an_unknown_number_take_a_press_below() -> None:
    sent = frames("AA0078910D", "AA01C4370D", "AA0392440D")
    found = taught(sent, "12.0 45.2 91.4")
    assert found.outcome is Outcome.MORE
    assert "only rose" in found.believed[0]


def test_nothing_but_zeros_is_asked_for_another_number_at_once() -> None:
    sent = [b"\xaa\x55" + bytes(24) + bytes([n]) for n in (1, 2, 3)]
    found = taught(sent, "0.0 0.0 0.0")
    assert found.outcome is Outcome.MORE
    assert found.left == ()
