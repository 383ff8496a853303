"""Text framed by control signs, with a sum before or behind the sign that closes it.

STX, ETX and EOT are those of ISO/IEC 646, the longitudinal check over a text and its ETX is that of
ISO 1155 (both from memory). The sums here are made on their own and not by the program's code.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0")
FRESH = ("88.7", "63.3", "7.5")
GLOSS = About(Quantity.GLOSS, channel="60", most=Decimal("199.9"))


def exclusive_or(data: bytes) -> bytes:
    told = 0
    for byte in data:
        told ^= byte
    return bytes([told])


def added_up(data: bytes) -> bytes:
    return bytes([sum(data) % 256])


def digits(data: bytes) -> bytes:
    return data.hex().upper().encode()


def text(value: str) -> bytes:
    return f"G60,{value:>6},GU".encode()


Framed = Callable[[bytes], bytes]
FRAMED: dict[str, Framed] = {
    "digits behind ETX, which they cover": lambda t: (
        b"\x02" + t + b"\x03" + digits(exclusive_or(t + b"\x03")) + b"\r\n"
    ),
    "digits behind ETX, which they do not cover": lambda t: (
        b"\x02" + t + b"\x03" + digits(exclusive_or(t)) + b"\r\n"
    ),
    "digits behind EOT, negated": lambda t: t + b"\x04" + digits(bytes([-sum(t) % 256])) + b"\r\n",
    "digits before ETX and CR": lambda t: b"\x02" + t + digits(added_up(t)) + b"\x03\r",
    "digits after a star, before ETX": lambda t: (
        b"\x02" + t + b"*" + digits(exclusive_or(t)) + b"\x03\n"
    ),
    "digits right behind the text": lambda t: t + digits(added_up(t)) + b"\r\n",
    "a byte behind ETX, at the end": lambda t: b"\x02" + t + b"\x03" + exclusive_or(t + b"\x03"),
    "a byte behind ETX, before CR": lambda t: (
        b"\x02" + t + b"\x03" + exclusive_or(t + b"\x03") + b"\r"
    ),
    "a byte before ETX, CR and LF": lambda t: b"\x02" + t + added_up(t) + b"\x03\r\n",
}


def taught(framed: Framed) -> Finding:
    return learn([Press(framed(text(v)), Decimal(v)) for v in SHOWN], GLOSS, Registry())


@pytest.mark.parametrize("name", FRAMED)
def test_three_presses_teach_the_sum_and_every_number_is_read(name: str) -> None:
    framed = FRAMED[name]
    found = taught(framed)
    assert found.outcome is Outcome.SURE, found.believed
    assert "[checksum]" in found.profile
    pressed = [framed(text(value)) for value in FRESH]
    told = readings(found.family, found.profile, pressed, Registry())
    assert [[str(reading.value) for reading in one] for one in told] == [[v] for v in FRESH]


@pytest.mark.parametrize("name", FRAMED)
def test_a_digit_that_changed_on_the_way_makes_noise_and_no_value(name: str) -> None:
    framed = FRAMED[name]
    found = taught(framed)
    broken = [
        framed(text(value)).replace(value.encode(), other.encode())
        for value, other in zip(FRESH, ("88.8", "63.4", "7.6"), strict=True)
    ]
    told = readings(found.family, found.profile, broken, Registry())
    assert told == [[], [], []]


def test_a_line_that_was_not_closed_ends_none_so_all_lines_must_be() -> None:
    made = [Press(b"GLOSS\r\n\x02" + text(value) + b"\x03\r\n", Decimal(value)) for value in SHOWN]
    found = learn(made, GLOSS, Registry())
    assert found.outcome is Outcome.SURE, found.believed
    assert 'terminator = "\\r\\n"' in found.profile
