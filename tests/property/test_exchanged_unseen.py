"""Whatever a hand does with the cable, no reading counts under the check of another meter.

Two meters of one kind behind an adapter that stays open, whose counts go on alike. In any order
the hand presses, moves the cable, there and back, switches on, while meters answer at once, late or
not at all. Nothing is lost by waiting for a name, nothing given twice, and a tape gives the same.
"""

from __future__ import annotations

import os
import random

import pytest

from acquire.model import Reading
from acquire.wire.checksum import CHECKSUMS
from drivers.frame import FAMILY as FRAME
from drivers.line import FAMILY as LINE
from drivers.modbus import FAMILY as MODBUS
from drivers.modbus.rtu import wrapped
from tests.captures import profile
from tests.property.cable import OTHER, OWN, Cable, Meter, Tongue, under

LIVES = int(os.environ.get("COATBENCH_EXAMPLES", "40"))
ANSWERS_MS = (5, 20, 20, 20, 300, 900, 1_500, 2_400, None)


class Lines(Tongue):
    """gloss-press, by drivers/line/WIRE.md."""

    def pressed(self, meter: Meter) -> bytes:
        return _line(f"R,{meter.presses:04d},20,{meter.value / 10:.1f},GU")

    def switched_on(self, meter: Meter) -> bytes:
        return _line(f"B,{meter.serial},1.4")

    def answers(self, meter: Meter, asked: bytes) -> list[bytes]:
        return [_line(f"I,{meter.serial}")] * asked.count(b"I?\r\n")


class Samples(Tongue):
    """force-stream at a hundredth of a second."""

    sample_every_ms = 10

    def sample(self, meter: Meter, thousandths: int) -> bytes:
        return b"%+07.3f N\r\n" % (thousandths / 1000)

    def switched_on(self, meter: Meter) -> bytes:
        return b"#ON\r\n"

    def answers(self, meter: Meter, asked: bytes) -> list[bytes]:
        return [f"#SN {meter.serial}\r\n".encode()] * asked.count(b"#SN?\r\n")


class Frames(Tongue):
    """frame-gloss, by drivers/frame/WIRE.md; serial numbers have eight signs there."""

    def pressed(self, meter: Meter) -> bytes:
        numbers = (meter.presses, 0, meter.value, meter.value, meter.value)
        sizes = (2, 1, 2, 2, 2)
        return _frame(
            b"R" + b"".join(n.to_bytes(s, "big") for n, s in zip(numbers, sizes, strict=True))
        )

    def switched_on(self, meter: Meter) -> bytes:
        return _frame(b"B" + meter.serial.encode().ljust(8, b"\0"))

    def answers(self, meter: Meter, asked: bytes) -> list[bytes]:
        name = _frame(b"I" + meter.serial.encode().ljust(8, b"\0"))
        return [name] * asked.count(bytes.fromhex("A55A013F4030"))


class Registers(Tongue):
    """modbus-gloss, by drivers/modbus/WIRE.md."""

    sends = False

    def switched_on(self, meter: Meter) -> bytes:
        return b""

    def answers(self, meter: Meter, asked: bytes) -> list[bytes]:
        if asked[1] == 3:
            return [wrapped(17, b"\x03\x10" + meter.serial.encode().ljust(16, b"\0"))]
        value = meter.value if meter.presses else 0x8000
        numbers = (meter.presses, 0, value, 0x8000, 0x8000, 0)
        data = b"".join(number.to_bytes(2, "big") for number in numbers)
        return [wrapped(17, bytes([4, len(data)]) + data)]


def _line(body: str) -> bytes:
    parity = 0
    for byte in body.encode():
        parity ^= byte
    return f"{body}*{parity:02X}\r\n".encode()


def _frame(body: bytes) -> bytes:
    covered = bytes([len(body)]) + body
    return b"\xa5\x5a" + covered + CHECKSUMS["crc16-modbus"].of(covered).to_bytes(2, "little")


def stream_table() -> dict[str, object]:
    table = profile("force-stream")
    return {**table, "stream": {**table["stream"], "rate_hz": 100}}


KINDS = {
    "line": (Lines(), lambda: LINE.driver(profile("gloss-press"), "p")),
    "frame": (Frames(), lambda: FRAME.driver(profile("frame-gloss"), "p")),
    "modbus": (Registers(), lambda: MODBUS.driver(profile("modbus-gloss"), "p")),
    "stream": (Samples(), lambda: LINE.driver(stream_table(), "p")),
}


def live(cable: Cable, dice: random.Random, *, is_stream: bool, is_noisy: bool) -> None:
    """A sitting of drawn deeds."""
    cable.run(dice.randrange(3_000))
    for _ in range(dice.randrange(4, 14)):
        for meter in cable.meters:
            if dice.random() < 0.3:
                meter.answers_after_ms = dice.choice(ANSWERS_MS)
        deed = dice.random()
        if deed < 0.45:
            if is_stream:
                cable.pull(dice.choice((3, 30, 300)))
            else:
                cable.press()
        elif deed < 0.75:
            cable.move(dice.choice((1_100, 1_100, 1_600, 2_500)))
        elif deed < 0.85:
            cable.switch_on()
        elif is_noisy:
            cable.noise(
                dice.choice((b"?", b"\x00\xff", b"I,\r\n", b"R,0001,20,9", b"\xa5\x5a\x0a"))
            )
        cable.run(dice.choice((2, 10, 40, 400, 1_200, 4_000, 4_000 if is_stream else 40_000)))
    cable.run(5_000)
    # Whatever has been: a meter that answers and is left alone is read.
    for meter in cable.meters:
        meter.answers_after_ms = 20
    if cable.at is None:
        cable.move()
    for _ in range(3):
        if is_stream:
            cable.pull(30)
        else:
            cable.press()
        cable.run(4_000)


@pytest.mark.parametrize("is_noisy", [False, True], ids=["clean", "noisy"])
@pytest.mark.parametrize("kind", KINDS)
def test_no_reading_counts_under_the_name_of_another_meter(kind: str, is_noisy: bool) -> None:
    tongue, make = KINDS[kind]
    counted = 0
    # Of a stream every sample is heard: one life of it takes as long as twenty of presses.
    lives = LIVES // 2 if kind == "stream" else LIVES
    for seed in range(lives):
        dice = random.Random(f"{kind} {is_noisy} {seed}")
        cable = Cable(make, tongue, dice)
        cable.echoes = is_noisy and kind != "modbus" and dice.random() < 0.3
        live(cable, dice, is_stream=kind == "stream", is_noisy=is_noisy)
        read: list[str] = []
        sure: set[str] = set()
        for name, reading in under(cable.ended()):
            value = _key(kind, reading)
            if name in (OWN, OTHER):
                counted += 1
                sure.add(value)
                assert cable.owners[value] == name, (seed, value, name)
            read += [value] if reading.channel in ("", "20") else []
        # The first of them may find its meter given up, and tells so.
        assert set(list(cable.owners)[-2:]) <= sure, seed
        # A register shows its result again once the cable is back; it ends the pass by its count.
        assert len(set(read)) == len(read) or not tongue.sends, (seed, "given twice")
        if tongue.sends and not is_noisy and kind != "stream":
            assert read == cable.heard, seed
    assert counted > lives


def _key(kind: str, reading: Reading) -> str:
    assert reading.value is not None
    return str(int(reading.value * (100 if kind == "stream" else 10)))
