"""Any bytes in any chunks: the modbus driver gives the same facts, all bytes, and no exception."""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi import Driver
from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Noise, Reading
from drivers.modbus import FAMILY
from drivers.modbus.driver import ModbusDriver
from drivers.modbus.rtu import HELD_BYTES, wrapped
from tests.captures import of_layout, profile

LAYOUTS = ("modbus-gloss", "modbus-force", "modbus-transmission")
STREAMS = [one.received for layout in LAYOUTS for one in of_layout(layout)]
LINE_BYTES_PER_S = 11_520
"""Of the fastest line in use, 115,200 baud."""


def later(at: Instant, seconds: float) -> Instant:
    ns = round(seconds * 1e9)
    return Instant(at.utc_ns + ns, at.mono_ns + ns)


def opened(layout: str) -> Driver:
    driver = FAMILY.driver(profile(layout), layout)
    driver.opening(START)
    return driver


def spoiled(data: bytes, seed: int) -> bytes:
    """A stream with some bytes changed, dropped or doubled."""
    randomness = random.Random(seed)
    out = bytearray()
    for byte in data:
        match randomness.randrange(40):
            case 0:
                out.append(byte ^ 1 << randomness.randrange(8))
            case 1:
                pass
            case 2:
                out += bytes([byte, byte])
            case _:
                out.append(byte)
    return bytes(out)


stretches = st.one_of(
    st.binary(max_size=1500),
    st.sampled_from(STREAMS),
    st.builds(spoiled, st.sampled_from(STREAMS), st.integers(0, 10**6)),
)
talks = st.lists(st.tuples(stretches, st.sampled_from([0.0, 0.01, 0.15, 0.6])), max_size=8)


@pytest.mark.parametrize("layout", LAYOUTS)
@given(talk=talks, seed=st.integers(0, 10**6))
def test_chunks_change_nothing_and_every_byte_keeps_its_place(
    layout: str, talk: list[tuple[bytes, float]], seed: int
) -> None:
    def fed(cut: Callable[[bytes], list[bytes]]) -> list[Fact]:
        driver, guard, at = opened(layout), Guard("modbus", START), START
        facts: list[Fact] = []
        for data, pause_s in talk:
            at = later(at, pause_s)
            guard.tell(at)
            guard.bytes(driver.due(at).send, "due")
            for chunk in cut(data):
                facts += guard.facts(driver.feed(chunk, at), chunk, at)
        return facts + guard.facts(driver.lost(at), b"", at)

    randomness = random.Random(seed)

    def anywhere(data: bytes) -> list[bytes]:
        places = sorted(randomness.randrange(len(data) + 1) for _ in range(6))
        return [data[a:b] for a, b in zip([0, *places], [*places, len(data)], strict=True)]

    whole = fed(lambda data: [data])
    assert whole == fed(lambda data: [data[i : i + 1] for i in range(len(data))])
    assert whole == fed(anywhere)
    stream = b"".join(data for data, _ in talk)
    for fact in whole:
        assert stream[fact.start : fact.end] == fact.raw


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_no_answer_is_noise_to_the_last_byte(layout: str) -> None:
    driver = opened(layout)
    data = random.Random(7).randbytes(20_000)
    facts = driver.feed(data, START) + driver.lost(START)
    assert all(isinstance(fact, Noise) for fact in facts)
    assert b"".join(fact.raw for fact in facts) == data


HOSTILE = {
    "random": random.Random(3).randbytes(200_000),
    "zeros": bytes(200_000),
    "false heads": b"\x11\x04\x0c" * 66_000,
    "false exceptions": b"\x11\x84" * 100_000,
    "false frames of another": b"\x05\x04\xfa" * 66_000,
    "whole frames of another": wrapped(5, b"\x04\xfa" + bytes(250)) * 780,
    "false headers of tcp": b"\x00\x01\x00\x00\x00\xfe" * 33_000,
    "short frames of tcp": bytes.fromhex("0001 0000 0003 ff8202") * 22_000,
}


@pytest.mark.parametrize("layout", ["modbus-gloss", "modbus-force"])
@pytest.mark.parametrize("kind", HOSTILE)
def test_no_stream_holds_more_than_a_little_memory(layout: str, kind: str) -> None:
    driver, at = opened(layout), START
    assert isinstance(driver, ModbusDriver)
    for start in range(0, len(HOSTILE[kind]), 4096):
        at = later(at, 0.3)
        driver.due(at)
        driver.feed(HOSTILE[kind][start : start + 4096], at)
        assert driver._framer.waiting_bytes < HELD_BYTES


def _hostile_rate(layout: str, data: bytes) -> float:
    """Bytes a second, with a request under way before each chunk of a tenth of a second."""
    driver, at = opened(layout), START
    chunk = LINE_BYTES_PER_S // 10
    started = time.process_time()
    for start in range(0, len(data), chunk):
        at = later(at, 0.1)
        driver.due(at)
        driver.feed(data[start : start + chunk], at)
    return len(data) / (time.process_time() - started)


def _good_rate(size: int) -> float:
    """Bytes a second of polls and answers, each answer a new result of three values."""
    driver, at = opened("modbus-gloss"), START
    driver.feed(wrapped(17, b"\x03\x10" + b"SH-0417".ljust(16, b"\0")), at)
    values = bytes.fromhex("0000 0392 03be 03d4 0000")
    answers = [
        wrapped(17, b"\x04\x0c" + count.to_bytes(2, "big") + values) for count in range(1, size + 1)
    ]
    received = sent = 0
    started = time.process_time()
    for answer in answers:
        at = later(at, 0.3)
        sent += len(driver.due(at).send)
        facts = driver.feed(answer, at)
        assert len([fact for fact in facts if isinstance(fact, Reading)]) == 3
        received += len(answer)
    return (received + sent) / (time.process_time() - started)


if __name__ == "__main__":  # python -m tests.drivers.test_modbus_stream: as multiples of the line
    print(f"good answers: {_good_rate(2000) / LINE_BYTES_PER_S:.0f} times")  # noqa: T201
    for name, stream in HOSTILE.items():
        for where in ("modbus-gloss", "modbus-force"):
            rate = _hostile_rate(where, stream) / LINE_BYTES_PER_S
            print(f"{name} ({where}): {rate:.0f} times")  # noqa: T201
