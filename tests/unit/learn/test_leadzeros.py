"""Zeros before a number at every press: a polarity, a range or a status, or only its places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton")
GLOSS = About(Quantity.GLOSS, channel="60")
BAND = About(Quantity.TRANSMITTANCE, channel="940")
NEWTONS = ("391.93", "253.66", "370.40")
TENTHS = ("91.4", "45.2", "12.0")


def summed(body: bytes) -> bytes:
    return body + bytes([sum(body) & 0xFF])


# A digit before the others, which is 0 at every press of the lesson, and these without a point.
MUTE: dict[str, tuple[About, Callable[[str], bytes]]] = {
    "marked": (FORCE, lambda z: f"\x02{z}\r".encode()),
    "with a unit": (FORCE, lambda z: f"{z} N\r\n".encode()),
    "point": (FORCE, lambda z: f"{z[:-2]}.{z[-2:]}N\r\n".encode()),
    "comma": (FORCE, lambda z: f"F {z[:-2]},{z[-2:]} N\r\n".encode()),
    "frame": (FORCE, lambda z: summed(b"\xaa\x55" + z.encode())),
    "frame with a point": (FORCE, lambda z: summed(f"\xaa{z[:-2]}.{z[-2:]}".encode("latin-1"))),
    "no end": (FORCE, lambda z: f"\x02{z}\x03".encode()),
    "packed": (FORCE, lambda z: summed(b"\xaa\x55" + bytes.fromhex(z))),
    "unpacked": (FORCE, lambda z: summed(b"\xaa\x55" + bytes(map(int, z)))),
    "share": (BAND, lambda z: f"T{z}\r\n".encode()),
    "percent": (BAND, lambda z: f"{z}%\r\n".encode()),
    "tenths of a percent": (BAND, lambda z: f"{z[:-1]}.{z[-1:]} %\r\n".encode()),
    "gloss": (GLOSS, lambda z: f"{z} GU\r\n".encode()),
}  # fmt: skip


def digits(shown: str, state: str, about: About) -> str:
    return f"{state}{shown.replace('.', ''):0>{5 if about.kind is Quantity.FORCE else 3}}"


def taught(how: str, *more: str, most: str | None = None) -> Finding:
    about, form = MUTE[how]
    shown = (*(NEWTONS if about.kind is Quantity.FORCE else TENTHS), *more)
    wide = [digits(v, "0" if len(v) < 7 else "", about) for v in shown]
    presses = [Press(form(z), Decimal(v)) for z, v in zip(wide, shown, strict=True)]
    limit = None if most is None else Decimal(most)
    return learn(presses, replace(about, most=limit), REGISTRY)


def read(found: Finding, *data: bytes) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    here = readings(found.family, found.profile, data, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


@pytest.mark.parametrize("how", MUTE)
@pytest.mark.parametrize("state", "123459")
def test_another_digit_where_all_presses_had_a_zero_is_noise_and_that_is_told(
    how: str, state: str
) -> None:
    about, form = MUTE[how]
    found = taught(how)
    other = "332.38" if about.kind is Quantity.FORCE else "33.4"
    lines = [form(digits(other, one, about)) for one in (state, "0")]
    assert read(found, *lines) == [None, other]
    assert found.tell_above is not None
    told = " ".join(found.unseen)
    assert "a number above " in told
    assert "--most with the largest number of its display" in told


@pytest.mark.parametrize(
    "how", [one for one in MUTE if MUTE[one][0] is FORCE and one != "unpacked"]
)
def test_a_larger_number_is_read_once_it_was_shown_or_a_person_said_how_far_the_display_goes(
    how: str,
) -> None:
    about, form = MUTE[how]
    for found in (taught(how, "1250.00"), taught(how, most="1999.99")):
        assert read(found, form(digits("1332.38", "", about))) == ["1332.38"]
    # Of what is beyond that nothing is read either.
    assert read(taught(how, most="500"), form(digits("332.38", "1", about))) == [None]


def test_of_several_units_the_zeros_are_held_since_no_limit_is_one_of_all() -> None:
    rows = (("0391.93 N", "391.93"), ("0253.66 N", "253.66"), ("0037.77 kgf", "37.77"),
            ("0030.50 kgf", "30.50"))  # fmt: skip
    presses = [Press(f"{line}\r\n".encode(), Decimal(v)) for line, v in rows]
    found = learn(presses, About(Quantity.FORCE), REGISTRY)
    lines = (b"0332.38 N\r\n", b"1332.38 N\r\n", b"1033.20 kgf\r\n", b"0033.20 kgf\r\n")
    assert read(found, *lines) == ["332.38", None, None, "33.20"]


def test_a_zero_before_the_point_alone_is_how_numbers_below_one_are_written() -> None:
    shown = ("0.452", "0.914", "0.120")
    presses = [Press(f"T {v}\r\n".encode(), Decimal(v)) for v in shown]
    found = learn(presses, replace(BAND, unit="one"), REGISTRY)
    assert read(found, b"T 1.003\r\n") == ["1.003"]
