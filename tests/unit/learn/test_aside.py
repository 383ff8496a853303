"""What is no part of a lesson is set aside and said: spoiled presses, bytes that nobody sent."""

from __future__ import annotations

import os
import random
import struct
import subprocess
import sys
import tomllib
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import (
    About,
    Chunk,
    Finding,
    Line,
    Outcome,
    Press,
    evident_kind,
    is_stray,
    learn,
    odd_one,
)
from acquire.learn.checksums.proven import MOST_CHANCE
from acquire.learn.lesson.spoiled import spoiled_of
from acquire.model import Quantity
from tests.learning.checks import checksum
from tests.unit.learn.test_cli import ANGLE, Captured, shown, tape
from tests.unit.learn.test_person import LINES, SHOWN, Bench

GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60")
REGISTRY = Registry()
SIX = ("91.4", "45.2", "12.0", "33.3", "78.1", "60.5")
Send = Callable[[str], bytes]


def text(value: str) -> bytes:
    body = f"#+{value}GU"
    return f"{body}/{checksum('crc8-smbus', body.encode()):02X};\r\n".encode()


def frame(value: str) -> bytes:
    body = b"\xa5\x11" + struct.pack(">H", int(Decimal(value) * 10)) + b"\x07"
    return body + bytes([checksum("crc8-smbus", body)])


def frame16(value: str) -> bytes:
    body = b"\xa5\x11" + struct.pack(">H", int(Decimal(value) * 10)) + b"\x07"
    return body + checksum("crc16-modbus", body).to_bytes(2, "little")


def taught(send: Send, values: Sequence[str], **changed: Callable[[bytes], bytes]) -> Finding:
    """Learned from these, of which press N is changed by `pN`."""
    presses = [
        Press(changed.get(f"p{n}", bytes)(send(value)), Decimal(value))
        for n, value in enumerate(values, 1)
    ]
    return learn(presses, GLOSS, REGISTRY)


def bit(place: int) -> Callable[[bytes], bytes]:
    """One bit of a byte turned over."""

    def turned(data: bytes) -> bytes:
        made = bytearray(data)
        made[place] ^= 0x04
        return bytes(made)

    return turned


def lost(place: int) -> Callable[[bytes], bytes]:

    def shorter(data: bytes) -> bytes:
        made = bytearray(data)
        del made[place]
        return bytes(made)

    return shorter


@pytest.mark.parametrize("send", [text, frame, frame16])
@pytest.mark.parametrize("fault", [bit(2), bit(3), bit(-4), bit(-1), lost(1), lost(3), lost(-1)])
def test_a_spoiled_press_does_not_take_the_checksum_away(
    send: Send, fault: Callable[[bytes], bytes]
) -> None:
    found = taught(send, SIX, p3=fault)
    assert found.outcome is Outcome.SURE, found.believed
    assert tomllib.loads(found.profile)["checksum"]
    (said,) = [line for line in found.believed if "press 3 of 6" in line]
    assert "was left out" in said
    spoiled = fault(send(SIX[2]))
    assert spoiled.hex(" ").upper() in said or repr(spoiled.decode("latin-1")) in said
    assert said in found.profile
    whole = taught(send, SIX)
    assert tomllib.loads(found.profile)["checksum"] == tomllib.loads(whole.profile)["checksum"]


def test_a_press_with_more_digits_is_not_said_to_be_spoiled() -> None:
    def send(value: str) -> bytes:
        body = b"\xaa\x01" + value.encode() + b" GU"
        return body + bytes([checksum("crc8-smbus", body)]) + b"\x55"

    found = taught(send, (*SIX[:5], "107.7"))
    assert found.outcome is Outcome.NONE
    assert "no profile reads frames of several lengths" in found.believed[0]
    # One that lost a digit is.
    assert any("press 3 of 6" in line for line in taught(send, SIX, p3=lost(3)).believed)


def test_of_eight_presses_two_may_be_spoiled() -> None:
    found = taught(text, (*SIX, "20.8", "55.5"), p3=bit(3), p7=bit(-5))
    assert "[checksum]" in found.profile
    assert any("press 3 of 8" in line and "press 7 of 8" in line for line in found.believed)


def test_where_the_others_may_fit_by_chance_another_press_is_asked_for() -> None:
    def weak(value: str) -> bytes:
        body = f"G,{value},GU"
        return f"{body}*{checksum('xor8', body.encode()):02X}\r\n".encode()

    # Two of three have the same sum, so that less was asked of it.
    assert weak("45.2")[-4:] == weak("54.2")[-4:]
    found = taught(weak, ("91.4", "45.2", "54.2", "12.0"), p4=bit(7))
    assert found.outcome is Outcome.MORE
    assert "press 4 of 4" in found.believed[0]
    assert "press once more" in found.next_step
    found = taught(weak, ("91.4", "45.2", "54.2", "12.0", "33.1", "71.9"), p4=bit(7))
    assert "[checksum]" in found.profile


def test_frames_without_a_checksum_have_no_spoiled_press() -> None:
    dice = random.Random(5)
    for count in (4, 5, 6, 8):
        for _ in range(25):
            found = spoiled_of([dice.randbytes(8) for _ in range(count)])
            assert found is None or found.chance > MOST_CHANCE / 100


def test_a_mistyped_number_is_still_named_beside_a_spoiled_press() -> None:
    values = [*SIX, "20.8"]
    presses = [Press(text(value), Decimal(value)) for value in values]
    presses[2] = Press(bit(3)(presses[2].data), presses[2].shown)
    presses[4] = Press(presses[4].data, Decimal("87.1"))
    odd = odd_one(presses, GLOSS, REGISTRY)
    assert odd is not None
    assert (odd.place, odd.says) == (4, Decimal("78.1"))


def test_the_unit_of_the_others_says_the_kind_where_one_press_is_spoiled() -> None:
    presses = [Press(text(value), Decimal(value)) for value in SIX]
    presses[2] = Press(text(SIX[2]).replace(b"G", b"\x87"), presses[2].shown)
    assert evident_kind(presses) is Quantity.GLOSS


@pytest.mark.parametrize("send", [text, frame, frame16])
@pytest.mark.parametrize("garbage", [b"\xff\x00", b"\x00", b"\xfe", b"\x00\x00\xf0\xff\x80"])
@pytest.mark.parametrize("place", [1, 2])
def test_bytes_that_nobody_sent_before_a_press_are_set_aside_and_said(
    send: Send, garbage: bytes, place: int
) -> None:
    changed = {f"p{place}": lambda data: garbage + data}
    found = taught(send, SIX[:3], **changed)
    assert found.outcome is Outcome.SURE, found.believed
    (said,) = [line for line in found.believed if f"before press {place} of 3" in line]
    assert said.startswith(garbage.hex(" ").upper())
    plain = taught(send, SIX[:3])
    assert found.profile.replace(f"# - {said}\n", "") == plain.profile


def test_stray_bytes_are_told_from_a_mark_that_is_one_of_them() -> None:
    found = taught(
        lambda value: b"\xff" + frame(value), SIX[:3], p1=lambda data: b"\xff\x00" + data
    )
    assert found.outcome is Outcome.SURE
    assert any(line.startswith("FF 00 before press 1") for line in found.believed)


def test_bytes_that_begin_every_press_are_a_part_of_it() -> None:
    for send in (text, frame):
        found = taught(lambda value, send=send: b"\xff\x00" + send(value), SIX[:3])
        assert not any("set aside" in line for line in found.believed)


def test_a_minus_in_unicode_is_no_stray_byte() -> None:
    presses = [
        Press(f"{value} GU\r\n".replace("-", "\u2212").encode(), Decimal(value))
        for value in ("-9.4", "45.2", "12.0")
    ]
    found = learn(presses, GLOSS, REGISTRY)
    assert found.outcome is Outcome.SURE
    assert not any("set aside" in line for line in found.believed)


def test_what_a_level_gives_that_falls_and_rises_once_is_stray() -> None:
    assert is_stray(b"\xff\x00\xf8")
    assert not is_stray(b"")
    assert not is_stray(b"\xff\x01")
    assert not is_stray(b"\x00" * 9)


def test_a_tape_that_begins_with_stray_bytes_needs_no_number_for_them(
    tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", [b"\xff\x00", *LINES])
    assert run(["learn", "--tape", str(path), *shown(*SHOWN), *ANGLE]) == 0
    assert "press 1: FF 00 came, as a line gives them" in capsys.readouterr().out
    assert run(["learn", "--tape", str(path), *shown("-", *SHOWN), *ANGLE]) == 0
    assert "FF 00" not in capsys.readouterr().out


@pytest.mark.parametrize("line", [None, Line(9600)])
@pytest.mark.parametrize("is_asking", [True, False])
def test_stray_bytes_before_the_first_press_do_not_end_the_lesson(
    line: Line | None, *, is_asking: bool
) -> None:
    for presses in ([b"\xff\x00", *LINES], [b"\xff\x00" + LINES[0], *LINES[1:]]):
        bench = Bench(presses, SHOWN, Line(9600))
        given = Given(Quantity.GLOSS, "gloss_unit", "60", line=line)
        learner = Lesson(given, bench if is_asking else None, Registry(), bench.tell)
        said = [] if is_asking else [Decimal(value) for value in SHOWN]
        found, about = learner.of_port(bench.open, bench.clock, said, 60)
        assert found.outcome is Outcome.SURE, found
        assert about.line == Line(9600)
        assert any("FF 00" in line for line in [*bench.told, *found.believed])


def test_stray_bytes_that_were_left_out_beforehand_take_their_turn() -> None:
    bench = Bench([b"\xff\x00", *LINES], [], Line(9600))
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=Line(9600))
    learner = Lesson(given, None, Registry(), bench.tell)
    said = [None, *(Decimal(value) for value in SHOWN)]
    found, _ = learner.of_port(bench.open, bench.clock, said, 60)
    assert found.outcome is Outcome.SURE


def test_a_meter_of_such_bytes_alone_loses_one_press_and_no_more() -> None:
    def send(value: str) -> bytes:
        return b"\xf0" + int(Decimal(value) * 10).to_bytes(2, "big")

    values = ("25.6", "91.4", "76.8", "45.3")
    presses = [send(values[0]), *map(send, values)]
    bench = Bench(presses, [*values, "", "", ""], Line(9600))
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=Line(9600), least=Decimal(0))
    learner = Lesson(given, bench, Registry(), bench.tell)
    learner.of_port(bench.open, bench.clock, [], 60)
    assert [one.shown for one in learner.taken][:4] == [Decimal(value) for value in values]


@pytest.mark.parametrize("is_counted", [True, False])
def test_presses_of_a_tape_with_stray_bytes_and_further_ones_go_together(
    *, is_counted: bool
) -> None:
    chunks = [Chunk(n * 5 * 10**9, data) for n, data in enumerate([b"\xff\x00", *LINES[:2]], 1)]
    bench = Bench([LINES[2], LINES[0]], [], Line(9600))
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=Line(9600))
    learner = Lesson(given, None, Registry(), bench.tell)
    values = [Decimal(value) for value in (*SHOWN, SHOWN[0])]
    said = [None, *values] if is_counted else values
    found, _ = learner.of_tape_and_port(chunks, {}, bench.open, bench.clock, said, 60)
    assert found.believed
    assert [one.shown for one in learner.taken if one.shown is not None] == values


def test_what_is_learned_does_not_hang_on_the_order_of_sets() -> None:
    code = (
        "from tests.unit.learn.test_aside import SIX, bit, taught, text;"
        "print(*(taught(text, SIX, p3=bit(place)) for place in (2, 3, -4, -1)))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }  # fmt: skip
    assert len(told) == 1
