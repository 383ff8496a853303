"""Numbers of one decimal digit a byte are learned, and what is no digit is noise."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
SHOWN = ("104.2", "45.2", "12.0")
GLOSS = About(Quantity.GLOSS, channel="60", most=Decimal(150))
Send = Callable[[str], bytes]


def digits(shown: str, size: int = 5) -> bytes:
    return bytes(int(sign) for sign in f"{round(Decimal(shown) * 10):0{size}d}")


def sent(order: int) -> Send:
    def send(shown: str) -> bytes:
        body = b"\xaa\x01" + digits(shown)[::order] + b"\x40"
        return body + bytes([sum(body) & 0xFF])

    return send


def taught(send: Send) -> Finding:
    return learn([Press(send(v), Decimal(v)) for v in SHOWN], GLOSS, REGISTRY)


def read(found: Finding, *frames: bytes) -> list[list[str]]:
    given = readings(found.family, found.profile, frames, REGISTRY)
    return [[str(reading.value) for reading in here] for here in given]


@pytest.mark.parametrize("order", [1, -1])
def test_three_presses_are_enough(order: int) -> None:
    send = sent(order)
    found = taught(send)
    assert found.outcome is Outcome.SURE, found.believed
    assert 'type = "unpacked"' in found.profile
    assert read(found, *map(send, ("33.7", "0.1", "149.9"))) == [["33.7"], ["0.1"], ["149.9"]]


def test_a_digit_that_was_always_zero_takes_a_press_that_shows_it() -> None:
    send = sent(1)
    found = learn([Press(send(v), Decimal(v)) for v in ("91.4", *SHOWN[1:])], GLOSS, REGISTRY)
    assert found.outcome is Outcome.MORE
    assert found.tell_above == 100
    assert telling(found)[-1] == "wanted: a press that shows a number of 100.0 or more"
    shown = ("91.4", *SHOWN[1:], "100.0")
    assert learn([Press(send(v), Decimal(v)) for v in shown], GLOSS, REGISTRY).tell_above != 100


def test_a_number_beyond_zero_is_asked_for_in_these_words() -> None:
    open_ = Finding(Outcome.MORE, ("why",), tell_above=Decimal(0))
    assert telling(open_)[-1] == "wanted: a press that shows a number above zero"


@pytest.mark.parametrize("place", [2, 3, 4, 5, 6])
@pytest.mark.parametrize("byte", [0x0A, 0x0F, 0x10, 0x81, 0xFF])
def test_a_byte_that_is_no_digit_is_noise(place: int, byte: int) -> None:
    found = taught(sent(1))
    frame = bytearray(sent(1)("33.7"))
    frame[place] = byte
    frame[-1] = sum(frame[:-1]) & 0xFF
    assert read(found, bytes(frame)) == [[]]


def test_a_number_that_could_be_an_integer_as_well_is_asked_about() -> None:
    found = learn(
        [Press(b"\xaa" + digits(v, 3) + b"\x0d", Decimal(v)) for v in ("0.9", "0.5", "0.1")],
        GLOSS, REGISTRY,
    )  # fmt: skip
    assert found.outcome is Outcome.MORE
    assert found.tell_above is not None
    assert any("unpacked" in one for one in found.left)
