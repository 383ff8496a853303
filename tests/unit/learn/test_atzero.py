"""Zero is zero with any number of decimals: what only presses of it had tells nothing of others."""

from __future__ import annotations

import struct
from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton", least=Decimal(-200), most=Decimal(200), settled=99)
Send = Callable[[int, int], bytes]
"""Bytes of a number of steps in a state."""
COARSE, FINE = 1, 2
Shown = tuple[tuple[int, int, str], ...]
LESSON: Shown = ((COARSE, 1873, "187.3"), (COARSE, 407, "40.7"), (FINE, 0, "0.00"))
MORE: Shown = (*LESSON, (COARSE, 117, "11.7"), (COARSE, 1500, "150.0"))


def summed(frame: bytes) -> bytes:
    return frame + bytes((sum(frame) & 0xFF,))


def integer(state: int, steps: int) -> bytes:
    return summed(b"\xaa\x55\x04" + struct.pack(">h", steps) + bytes((state,)))


def packed(state: int, steps: int) -> bytes:
    return summed(b"\x55" + bytes((state << 4,)) + bytes.fromhex(f"{steps:04}"))


def beside_flags(state: int, steps: int) -> bytes:
    # Two bits that always changed stand in the same byte.
    return summed(b"\xaa\x55" + bytes((state << 4 | steps & 3,)) + bytes.fromhex(f"{steps:06}"))


def digits(state: int, steps: int) -> bytes:
    return f"{state},{steps:05d},N\r\n".encode()


def copied(state: int, steps: int) -> bytes:
    data = struct.pack("<h", steps)
    return summed(b"\xaa" + data + bytes((state,)) + data)


FRAMES: tuple[Send, ...] = (integer, packed, digits, copied)
each_frame = pytest.mark.parametrize("send", FRAMES)


def taught(send: Send, lesson: Shown) -> Finding:
    presses = [Press(send(state, steps), Decimal(text)) for state, steps, text in lesson]
    return learn(presses, FORCE, REGISTRY)


def read(found: Finding, *sent: bytes) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    here = readings(found.family, found.profile, sent, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


@each_frame
@pytest.mark.parametrize("lesson", [LESSON, MORE, MORE[::-1], (*MORE, (FINE, 0, "0.00"))])
def test_a_state_that_only_zero_had_reads_zero_and_nothing_else(send: Send, lesson: Shown) -> None:
    found = taught(send, lesson)
    sent = [send(*one) for one in ((FINE, 460), (COARSE, 460), (FINE, 0), (COARSE, 0), (FINE, 1))]
    assert read(found, *sent) == [None, "46.0", "0.0", "0.0", None]
    told = [line for line in found.unseen if "only presses of 0 had it" in line]
    assert len(told) == 1


@each_frame
def test_a_state_that_another_number_had_as_well_is_read(send: Send) -> None:
    found = taught(send, (*MORE, (FINE, 931, "93.1")))
    assert read(found, send(FINE, 460), send(FINE, 0)) == ["46.0", "0.0"]
    assert not [line for line in found.unseen if "only presses of 0" in line]


@pytest.mark.parametrize("send", [integer, copied])
def test_the_press_that_is_asked_for_teaches_the_decimals_of_that_state(send: Send) -> None:
    found = taught(send, (*MORE, (FINE, 460, "4.60")))
    assert read(found, send(FINE, 93), send(COARSE, 93), send(FINE, 0)) == ["0.93", "9.3", "0.00"]


def test_bits_of_a_state_are_held_beside_others_of_their_byte_that_change() -> None:
    steps = (1873, 407, 117, 1500, 731, 942, 364, 1288)
    lesson: Shown = tuple((COARSE, n, str(Decimal(n) / 10)) for n in steps)
    found = taught(beside_flags, (*lesson[:4], (FINE, 0, "0.00"), *lesson[4:]))
    sent = [beside_flags(*one) for one in ((FINE, 460), (COARSE, 461), (FINE, 0), (COARSE, 0))]
    assert read(found, *sent) == [None, "46.1", "0.0", "0.0"]


def test_decimals_that_only_zero_had_are_not_taken_from_a_byte() -> None:
    lesson = ((COARSE, 1873, "187.3"), (FINE, 407, "4.07"), (FINE, 93, "0.93"), (3, 0, "0.000"))
    assert taught(integer, lesson).outcome is not Outcome.SURE


def test_a_count_goes_on_through_a_press_of_zero() -> None:
    def send(count: int, state: int, steps: int) -> bytes:
        return summed(b"\xaa\x55" + bytes((count, state)) + struct.pack(">h", steps))

    lesson = [(n, *one) for n, one in enumerate((*MORE, (COARSE, 731, "73.1")), 7)]
    presses = [Press(send(n, state, steps), Decimal(text)) for n, state, steps, text in lesson]
    found = learn(presses, FORCE, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    sent = [send(13, COARSE, 460), send(14, FINE, 0), send(15, FINE, 460), send(16, COARSE, 93)]
    assert read(found, *sent) == ["46.0", "0.0", None, "9.3"]


@pytest.mark.parametrize("zero", [Decimal("0.0"), Decimal(0)])
@pytest.mark.parametrize("form", ["{state},{steps},N", "{steps:5d} N {state}", "R{state} {steps}"])
def test_of_a_line_another_press_in_that_state_is_asked_for(form: str, zero: Decimal) -> None:
    def press(state: int, steps: int, shown: Decimal) -> Press:
        return Press(f"{form.format(state=state, steps=steps)}\r\n".encode(), shown)

    lesson = [press(COARSE, n, Decimal(n) / 10) for n in (1873, 407, 93)]
    open_ = learn([*lesson, press(FINE, 0, zero)], FORCE, REGISTRY)
    assert open_.outcome is Outcome.MORE
    assert telling(open_)[-1].startswith("wanted: a press that shows another number than 0")
    settled = [*lesson, press(FINE, 0, zero), press(FINE, 460, Decimal("46.0"))]
    found = learn(settled, FORCE, REGISTRY)
    assert read(found, f"{form.format(state=FINE, steps=731)}\r\n".encode()) == ["73.1"]
    finer = [*lesson, press(FINE, 0, zero), press(FINE, 460, Decimal("4.60"))]
    found = learn(finer, FORCE, REGISTRY)
    if found.outcome is Outcome.SURE:
        # Of lines of one length the digit itself may say it.
        sent = f"{form.format(state=FINE, steps=731)}\r\n".encode()
        assert read(found, sent) == ["7.31"]


def test_a_number_that_has_its_point_says_its_decimals_itself() -> None:
    def press(state: int, text: str) -> Press:
        return Press(f"{state},{text},N\r\n".encode(), Decimal(text))

    found = learn([press(1, "187.3"), press(1, "40.7"), press(2, "0.0")], FORCE, REGISTRY)
    assert read(found, b"2,46.0,N\r\n") == ["46.0"]


def test_a_press_of_zero_in_the_state_of_all_others_changes_nothing() -> None:
    lesson = ((COARSE, 1873, "187.3"), (COARSE, 407, "40.7"), (COARSE, 0, "0.0"))
    found = taught(integer, lesson)
    assert found.profile.count("[[message]]") == 1
    assert read(found, integer(COARSE, 460), integer(COARSE, 0)) == ["46.0", "0.0"]


def test_a_press_of_zero_that_is_nothing_but_zeros_is_a_frame_like_others() -> None:
    def send(steps: int) -> bytes:
        return b"\x00" + steps.to_bytes(3, "big")

    presses = [Press(send(n), Decimal(n) / 10) for n in (1873, 407, 93, 0)]
    found = learn(presses, FORCE, REGISTRY)
    assert read(found, send(460), send(0)) == ["46.0", "0.0"]
