"""A count that stands twice in a frame: its copy is held to it, and where they part it is noise."""

from __future__ import annotations

import struct
import tomllib
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn import About, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

GLOSS = About(Quantity.GLOSS, channel="60", settled=3)
REGISTRY = Registry()
SHOWN = ("91.4", "45.2", "12.0")


def sent(count: int, copy: int, value: str = "45.2") -> bytes:
    return (
        b"\xa5" + bytes([count]) + struct.pack(">h", int(Decimal(value) * 10)) + bytes([0x61, copy])
    )


def test_a_copy_of_the_count_goes_on_with_it_and_is_noise_where_it_parts() -> None:
    found = learn(
        [Press(sent(n, n, v), Decimal(v)) for n, v in zip((33, 34, 35), SHOWN, strict=True)],
        GLOSS,
        REGISTRY,
    )
    assert found.outcome is Outcome.SURE, found.believed
    assert "byte 5 repeats the count: a frame in which they differ is noise" in found.believed
    assert tomllib.loads(found.profile)["message"][0]["copies"] == [{"offset": 5, "of": 1}]
    data = [sent(36, 36), sent(37, 0xA5), sent(38, 38), sent(0xC0, 0xC0), sent(0xC1, 0x41)]
    given = readings(found.family, found.profile, data, REGISTRY)
    assert [len(here) for here in given] == [1, 0, 1, 1, 0]


def test_a_second_count_of_other_numbers_is_no_copy() -> None:
    made = zip((33, 34, 35), SHOWN, strict=True)
    found = learn([Press(sent(n, n + 70, v), Decimal(v)) for n, v in made], GLOSS, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert "copies" not in tomllib.loads(found.profile)["message"][0]
