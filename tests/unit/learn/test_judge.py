"""Sure only if one reading is right by all explanations; else which press would tell."""

from __future__ import annotations

import struct
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.presses.press import About as Said
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

GLOSS = About(Quantity.GLOSS, channel="60")
FORCE = About(Quantity.FORCE, unit="newton", settled=9)


def presses(
    *shown: str, form: str = ">h", scale: int = 10, before: bytes = b"\xa5\x5a"
) -> list[Press]:
    made = []
    for count, text in enumerate(shown):
        steps = int(Decimal(text) * scale)
        data = before + struct.pack(form, steps) + bytes([(count * 73 + 5) % 256, 0x0D])
        made.append(Press(data, Decimal(text)))
    return made


def taught(made: list[Press], about: Said = GLOSS) -> Finding:
    return learn(made, about, Registry())


def is_found(found: Finding) -> bool:
    """Whether the number is found, however many presses a byte beside it still makes noise."""
    return found.outcome is Outcome.SURE or found.is_meagre


def test_an_integer_behind_a_marker_takes_three_presses() -> None:
    found = taught(presses("91.4", "45.2", "12.0"))
    assert is_found(found)
    assert 'type = "int16"' in found.profile
    assert 'order = "big"' in found.profile
    assert "scale = 0.1" in found.profile


def test_without_a_number_that_needs_the_upper_byte_one_is_asked_for() -> None:
    found = taught(presses("12.0", "20.1", "9.3"))
    assert found.outcome is Outcome.MORE
    assert found.tell_above == Decimal("25.6")
    assert not found.profile


def test_the_press_that_was_asked_for_tells() -> None:
    found = taught(presses("12.0", "20.1", "9.3", "91.4"))
    assert is_found(found)


def test_or_the_person_says_how_far_the_display_goes() -> None:
    said = Said(Quantity.GLOSS, channel="60", most=Decimal("25.5"), least=Decimal(0))
    assert is_found(taught(presses("12.0", "20.1", "9.3"), said))


def test_a_number_that_reaches_the_top_bit_may_have_a_sign_or_not() -> None:
    found = taught(presses("1.25", "30.10", "12.70", form=">H", scale=1000), FORCE)
    assert is_found(found)
    assert found.tell_above == Decimal("32.77")
    assert any("uint16" in one for one in found.left)
    assert any("as int16" in one for one in found.left)
    below, beyond = (presses(n, form=">H", scale=1000)[0].data for n in ("32.75", "40.00"))
    given = readings("frame", found.profile, [below, beyond], Registry())
    assert [[str(r.value) for r in here] for here in given] == [["32.750"], []]


def test_what_the_display_cannot_show_is_refused_and_not_read_with_a_wrong_sign() -> None:
    made = presses("91.4", "45.2", "12.0", form=">H")
    found = taught(made)
    beyond = presses("3300.0", form=">H")[0].data
    given = readings("frame", found.profile, [beyond, made[0].data], Registry())
    assert [len(here) for here in given] == [0, 1]


def test_bytes_that_never_changed_make_a_frame_noise_when_they_do() -> None:
    made = presses("91.4", "45.2", "12.0", before=b"\xa5\x5a\x40")
    found = taught(made)
    assert is_found(found)
    failed = b"\xa5\x5a\x41" + made[0].data[3:]
    assert readings("frame", found.profile, [failed, made[0].data], Registry())[0] == []


def test_the_same_number_every_time_tells_nothing() -> None:
    found = taught(presses("45.2", "45.2", "45.2"))
    assert found.outcome is Outcome.MORE


def test_two_presses_are_not_enough() -> None:
    assert taught(presses("91.4", "45.2")).outcome is Outcome.MORE


def test_a_number_that_is_in_no_press_is_told() -> None:
    made = presses("91.4", "45.2", "12.0")
    made[1] = Press(made[1].data, Decimal("45.3"))
    found = taught(made)
    assert found.outcome is Outcome.NONE
    assert "no place in the bytes" in found.believed[0]


def test_without_geometry_or_unit_nothing_is_made_up() -> None:
    assert taught(presses("91.4", "45.2", "12.0"), About(Quantity.GLOSS)).missing == "geometry"
    assert taught(presses("91.4", "45.2", "12.0"), About(Quantity.FORCE)).missing == "unit"
    band = taught(presses("91.4", "45.2", "12.0"), About(Quantity.TRANSMITTANCE))
    assert (band.outcome, band.missing) == (Outcome.UNSAID, "band")
    small = taught(
        presses("0.914", "0.452", "0.120", scale=1000),
        Said(Quantity.TRANSMITTANCE, most=Decimal(1)),
    )
    assert small.missing == "unit"


def told(*frames: tuple[str, str], about: Said = FORCE) -> Finding:
    return taught([Press(bytes.fromhex(data), Decimal(shown)) for data, shown in frames], about)


def test_decimals_that_a_byte_tells_are_followed_and_its_other_bits_held() -> None:
    found = told(
        ("02 22 00 01 23 4C 71 03", "12.34"),
        ("02 21 00 12 58 0C 15 03", "1258.0"),
        ("02 23 00 01 25 8C 9A 03", "1.258"),
        ("02 22 00 77 00 1C 3E 03", "770.01"),
        ("02 21 07 34 56 2D 88 03", "-73456.2"),
    )
    assert found.outcome is Outcome.SURE, found
    assert "decimals_at" in found.profile
    good, overload = (bytes.fromhex(f"02 {b} 00 00 05 5C 12 03") for b in ("23", "63"))
    given = readings("frame", found.profile, [good, overload], Registry())
    assert [[str(r.value) for r in here] for here in given] == [["0.055"], []]


def test_a_sign_that_one_bit_tells_is_followed() -> None:
    found = told(
        ("AA 00 03 92 71", "91.4"),
        ("AA 80 01 C4 15", "-45.2"),
        ("AA 00 00 78 9A", "12.0"),
        ("AA 80 20 00 9B", "-819.2"),
        about=Said(Quantity.FORCE, unit="newton", most=Decimal(1000)),
    )
    assert is_found(found), found
    minus, strange = (bytes.fromhex(f"AA {b} 00 0A 55") for b in ("80", "81"))
    given = readings("frame", found.profile, [minus, strange], Registry())
    assert [[str(r.value) for r in here] for here in given] == [["-1.0"], []]


@pytest.mark.parametrize("bit", [0x10, 0x20, 0x40, 0x80])
def test_flags_in_the_top_bits_of_a_number_are_no_number(bit: int) -> None:
    made = presses("91.4", "45.2", "12.0")
    found = taught(made)
    data = bytearray(made[0].data)
    data[2] |= bit
    given = readings("frame", found.profile, [bytes(data), made[0].data], Registry())
    assert [len(here) for here in given] == [0, 1]


def test_digits_that_stand_together_are_one_number() -> None:
    made = [
        Press(b"\xa5" + text.encode() + bytes([0xB0, 7 * place]), Decimal(text).scaleb(-2))
        for place, text in enumerate(("04520", "09140", "01200"))
    ]
    found = taught(made, FORCE)
    assert is_found(found)
    assert "size = 5" in found.profile
