"""The conformance kit finds what is wrong with a driver: each broken one is caught by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import Driver, Due, LinkNeeds
from acquire.driverapi.capture import Capture, Step, capture
from acquire.driverapi.conformance import violations
from acquire.model import Fact, Instant, Noise, Reading
from drivers.line import FAMILY
from tests.captures import of_layout, profile

CAPTURES = [one.capture for one in of_layout("gloss-press")]
Feed = Callable[[Driver, bytes, Instant], Any]


class Broken:
    """The line family with one thing broken."""

    name = "line"
    api = 1

    def __init__(self, make: Callable[[Driver], object]) -> None:
        self._make = make

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        return FAMILY.needs(profile, source)

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return self._make(FAMILY.driver(profile, source))  # type: ignore[return-value]


class Wrapped:
    """A real driver, to be spoiled by a subclass."""

    def __init__(self, real: Driver) -> None:
        self.real = real

    def opening(self, at: Instant) -> bytes:
        return self.real.opening(at)

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return self.real.feed(data, at)

    def due(self, now: Instant) -> Due:
        return self.real.due(now)

    def take(self, at: Instant) -> bytes:
        return self.real.take(at)

    def lost(self, at: Instant) -> list[Fact]:
        return self.real.lost(at)


class ForgetsTheRest(Wrapped):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        facts = self.real.feed(data, at)
        self.real.lost(at)
        return facts


class MakesUpAValue(Wrapped):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return [
            f._replace(value=None, text="0") if isinstance(f, Reading) else f
            for f in self.real.feed(data, at)
        ]


class RoundsIt(Wrapped):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return [
            f._replace(value=f.value.quantize(Decimal(1)))
            if isinstance(f, Reading) and f.value
            else f
            for f in self.real.feed(data, at)
        ]


class SwallowsNoise(Wrapped):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return [f for f in self.real.feed(data, at) if not isinstance(f, Noise)]


class SwallowsTheTail(Wrapped):
    def lost(self, at: Instant) -> list[Fact]:
        self.real.lost(at)
        return []


class RaisesOnJunk(Wrapped):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        data.decode("ascii")
        return self.real.feed(data, at)


class CountsChunks(Wrapped):
    chunks = 0

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        self.chunks += 1
        return [
            f._replace(text=f"{self.chunks}") if isinstance(f, Reading) else f
            for f in self.real.feed(data, at)
        ]


class GoesBackInTime(Wrapped):
    def due(self, now: Instant) -> Due:
        return Due(b"", Instant(now.utc_ns - 1, now.mono_ns - 1))


class Floods(Wrapped):
    def due(self, now: Instant) -> Due:
        return Due(b"?", Instant(now.utc_ns + 1000, now.mono_ns + 1000))


class SendsText(Wrapped):
    def take(self, at: Instant) -> bytes:
        return "M"  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (ForgetsTheRest, "byte by byte"),
        (MakesUpAValue, "no value and no range flag"),
        (RoundsIt, "fed whole: fact 1"),
        (SwallowsNoise, "noise: fed whole"),
        (SwallowsTheTail, "was waiting"),
        (RaisesOnJunk, "junk: random bytes: raised UnicodeDecodeError"),
        (CountsChunks, "byte by byte"),
        (GoesBackInTime, "due: wants to be asked in the past"),
        (Floods, "due: sends 1000 times within a second"),
        (SendsText, "due: take gives no bytes"),
    ],
)
def test_a_broken_driver_is_caught(broken: Callable[[Driver], object], said: str) -> None:
    found = violations(Broken(broken), profile("gloss-press"), CAPTURES)
    assert any(said in wrong for wrong in found), found


def test_what_other_chunks_change_is_told_with_its_bytes() -> None:
    found = violations(Broken(ForgetsTheRest), profile("gloss-press"), [])
    (told, *_) = [one for one in found if "in other chunks" in one]
    assert "other facts when it came in other chunks: fact 0, of bytes 0 to 64 (b'" in told
    assert told.endswith(" and so on): whole noise of 64 bytes, in chunks nothing")


def test_an_untouched_wrapper_is_sound() -> None:
    assert violations(Broken(Wrapped), profile("gloss-press"), CAPTURES) == []


def test_a_family_that_misses_the_interface_is_told_before_anything_is_fed() -> None:
    assert violations(object(), {}, []) != []  # type: ignore[arg-type]
    (refused,) = violations(FAMILY, {}, CAPTURES)
    assert "the profile is refused" in refused


def test_a_family_that_changes_the_profile_is_caught() -> None:
    class Scribbles(Broken):
        def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
            profile["about"] = "mine"  # type: ignore[index]
            return FAMILY.needs(profile, source)

    found = violations(Scribbles(Wrapped), dict(profile("gloss-press")), [])
    assert found == ["the profile was changed"]


def test_a_capture_that_means_something_else_is_told() -> None:
    wrong = CAPTURES[0]._replace(name="wrong", facts=CAPTURES[0].facts[:-1])
    found = violations(FAMILY, profile("gloss-press"), [wrong])
    assert any("beyond what the capture means" in one for one in found)


def test_a_capture_is_read_from_its_table() -> None:
    table = {
        "step": [{"sent": "?\r", "received": "\u00ff"}, {"after_s": 1.5}],
        "fact": [{"is": "noise", "raw": "\u00ff"}],
    }
    one = capture(table, "n")
    assert one.steps == (Step(0.0, b"?\r", b"\xff"), Step(1.5, b"", b""))
    assert one.received == b"\xff"
    assert isinstance(one, Capture)
    with pytest.raises(ValueError, match="has no colour"):
        capture({"step": [], "fact": [{"is": "noise", "raw": "", "colour": 1}]}, "n")
