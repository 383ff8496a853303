"""A number that stands before the checksum of its line: what proves the line tells that it is none.

The sums here are made in this file, by their usual definitions.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.beside.unexplained import STRANGE_END
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="20", settled=10)
SHOWN = ("31.0", "84.7", "45.2", "12.6", "60.1", "93.3", "27.9", "71.8", "55.4", "38.5")
RAW = ("838", "214", "977", "305", "552", "681", "149", "760", "423", "896")
WORN = ("71", "71", "71", "70", "70", "70", "69", "69", "69", "68")
Sum = Callable[[bytes], str]


def crc16(data: bytes) -> str:
    """Polynomial A001 bit by bit from FFFF, as MODBUS over serial line V1.02, 6.2.2, has it."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return f"{crc:04X}"


SUMS: list[Sum] = [
    lambda data: f"{sum(data) & 0xFF:02X}", lambda data: f"{reduce(xor, data):02X}", crc16,
]  # fmt: skip
IDS = ["sum8", "xor8", "crc16"]


def line(shown: str, beside: str, sum_: Sum, after: str = "*") -> bytes:
    body = f"{shown} GU,{beside}"
    return f"{body}{after}{sum_(body.encode())}\r\n".encode()


def taught(sent: list[bytes]) -> Finding:
    return learn([Press(b, Decimal(v)) for b, v in zip(sent, SHOWN, strict=False)], GLOSS, REGISTRY)


@pytest.mark.parametrize("presses", [3, 5, 10])
@pytest.mark.parametrize("sum_", SUMS, ids=IDS)
@pytest.mark.parametrize("after", ["*", ",", ""])
@pytest.mark.parametrize("beside", [RAW, WORN], ids=["any number", "a battery"])
def test_digits_before_a_checksum_are_none_and_the_line_is_learned_with_it(
    presses: int, sum_: Sum, after: str, beside: tuple[str, ...]
) -> None:
    rows = list(zip(SHOWN, beside, strict=True))[:presses]
    found = taught([line(*row, sum_, after) for row in rows])
    assert found.outcome is Outcome.SURE, found.believed
    assert "[checksum]" in found.profile
    sent = line("40.5", beside[0], sum_, after)
    spoiled = sent.replace(b"40.5", b"40.6")
    here, there = readings("line", found.profile, [sent, spoiled], REGISTRY)
    assert [reading.value for reading in here] == [Decimal("40.5")]
    assert not there


@pytest.mark.parametrize("presses", [3, 5, 10])
def test_digits_at_the_end_that_go_with_no_checksum_are_asked_about_as_before(presses: int) -> None:
    dice = random.Random(3)
    beside = [f"{raw}*{dice.randrange(256):02X}" for raw in RAW]
    for place in (0, 1):
        ends = [(one, one.partition("*")[0])[place] for one in beside]
        rows = list(zip(SHOWN, ends, strict=True))[:presses]
        found = taught([f"{v} GU,{end}\r\n".encode() for v, end in rows])
        if place:
            assert found.believed == (STRANGE_END.why,)
        else:
            assert "[checksum]" not in found.profile


def test_a_checksum_of_another_line_says_nothing_of_the_digits_at_the_end_of_this_one() -> None:
    heads = [f"READY {raw}" for raw in RAW]
    sent = [
        f"{head}*{SUMS[0](head.encode())}\r\n{v} GU,{raw[::-1]}\r\n".encode()
        for head, v, raw in zip(heads, SHOWN, RAW, strict=True)
    ]
    assert taught(sent[:5]).outcome is Outcome.MORE
