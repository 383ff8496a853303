"""Zero with a sign: where no press has shown a sign, that bit beside zeros may as well be a flag.

Positive and negative zero of floating point: IEEE 754-2019, 3.4. Packed decimals with their sign in
the top bit: common practice, no source.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
FORCE = About(Quantity.FORCE, unit="newton", least=Decimal(-50), most=Decimal(50))
SHOWN = ("91.4", "45.2", "12.0")
BOTH = ("41.4", "-45.2", "12.0", "-7.3")
Send = Callable[[str], bytes]


def packed(text: str) -> bytes:
    data = bytearray.fromhex(f"{abs(int(Decimal(text) * 10)):04}")
    data[0] |= 0x80 if text[0] == "-" else 0
    return bytes(data)


def last_nibble(text: str) -> bytes:
    return bytes.fromhex(f"{abs(int(Decimal(text) * 10)):03}{'D' if text[0] == '-' else 'C'}")


def floating(form: str, words: int = 1) -> Send:
    def send(text: str) -> bytes:
        data = struct.pack(form, float(text))
        return data if words == 1 else data[2:] + data[:2]

    return send


FORMS = {
    "bcd": packed, "bcd little": lambda text: packed(text)[::-1], "last nibble": last_nibble,
    "float": floating(">f"), "float little": floating("<f"), "double": floating(">d"),
    "words": floating(">f", 2), "words little": floating("<f", 2),
}  # fmt: skip
each_form = pytest.mark.parametrize("send", FORMS.values(), ids=FORMS)


def framed(data: bytes) -> bytes:
    frame = b"\xaa\x55\x06\x01" + data
    return frame + bytes((sum(frame) & 0xFF,))


def taught(send: Send, shown: tuple[str, ...], about: About) -> Finding:
    found = learn([Press(framed(send(v)), Decimal(v)) for v in shown], about, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    return found


def read(found: Finding, send: Send, *shown: str) -> list[Decimal | None]:
    here = readings(found.family, found.profile, [framed(send(v)) for v in shown], REGISTRY)
    return [one[0].value if one else None for one in here]


@each_form
@pytest.mark.parametrize("most", [None, Decimal("99.9")])
def test_where_no_press_was_below_zero_zero_with_a_sign_is_noise(
    send: Send, most: Decimal | None
) -> None:
    about = replace(GLOSS, least=None if most is None else Decimal(0), most=most)
    found = taught(send, SHOWN, about)
    assert read(found, send, "-0.0", "-12.0", "0.0", "33.3") == [
        None, None, Decimal(0), Decimal("33.3"),
    ]  # fmt: skip


@each_form
def test_where_presses_have_shown_the_sign_zero_may_have_it(send: Send) -> None:
    found = taught(send, BOTH, FORCE)
    assert read(found, send, "-33.3", "0.0", "-0.0") == [Decimal("-33.3"), Decimal(0), Decimal(0)]


def test_a_top_bit_of_packed_decimals_that_was_never_set_is_not_taken_for_a_sign() -> None:
    assert "sign" not in taught(packed, SHOWN, GLOSS).profile
    assert 'sign = "top-bit"' in taught(packed, BOTH, FORCE).profile


def lines(text: str) -> bytes:
    return f"{text:>6} GU\r\n".encode()


def test_so_it_is_in_text_where_nothing_below_zero_is_read() -> None:
    about = replace(GLOSS, least=Decimal(0), most=Decimal(120))
    found = learn([Press(lines(v), Decimal(v)) for v in SHOWN], about, REGISTRY)
    sent = [lines(v) for v in ("-0.0", "0.0", "33.3")]
    here = readings(found.family, found.profile, sent, REGISTRY)
    assert [one[0].value if one else None for one in here] == [None, Decimal(0), Decimal("33.3")]
    found = learn([Press(lines(v), Decimal(v)) for v in (*SHOWN, "-0.0")], about, REGISTRY)
    assert "\nleast = -0.0\n" in found.profile
    here = readings(found.family, found.profile, [*sent, lines("-0.1")], REGISTRY)
    assert [bool(one) for one in here] == [True, True, True, False]


def test_a_press_that_had_zero_with_its_sign_has_shown_it() -> None:
    found = taught(floating(">f"), (*SHOWN, "-0.0"), GLOSS)
    assert "\nleast = -0.0\n" in found.profile
    assert read(found, floating(">f"), "-0.0", "0.0") == [Decimal(0), Decimal(0)]
