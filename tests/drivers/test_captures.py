"""Every driver against the captures of its layouts, and the captures against themselves."""

from __future__ import annotations

import pytest

from acquire.driverapi import Family
from acquire.driverapi.conformance import START, violations
from acquire.driverapi.registry import Registry
from acquire.model import Instant
from tests.captures import EVERY, EVERY_LAYOUT, Shelved, family_of, of_layout, profile

EACH = pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.profile}/{one.capture.name}")

FEWEST = {"line": 2, "frame": 5, "keyed": 4}
"""The captures that a layout of a family has at least; of the others 3."""

TAKES = (b"M\r", bytes.fromhex("02 4D 03"))
"""What the host sends to have a reading taken, in captures that do not say so beside it."""


def family(layout: str) -> Family:
    return Registry().family(family_of(layout))


@pytest.mark.parametrize("layout", EVERY_LAYOUT)
def test_the_driver_conforms_and_means_what_the_captures_say(layout: str) -> None:
    captures = [one.capture for one in of_layout(layout)]
    assert len(captures) >= FEWEST.get(family_of(layout), 3)
    is_asked = bool(getattr(family(layout), "is_asked", False))
    assert violations(family(layout), profile(layout), captures, is_asked=is_asked) == []


@EACH
def test_the_conversation_of_a_capture_is_its_two_binary_files(one: Shelved) -> None:
    assert one.received == one.capture.received
    assert one.sent == b"".join(step.sent for step in one.capture.steps)


@EACH
def test_a_capture_says_where_it_comes_from_and_what_happens(one: Shelved) -> None:
    assert "WIRE.md" in one.table["source"]
    assert len(one.table["story"]) > 20


@EACH
def test_the_host_sends_what_the_capture_says_when_it_says_so(one: Shelved) -> None:
    driver = family(one.profile).driver(profile(one.profile), one.profile)
    now = START
    opening = driver.opening(now)
    for number, step in enumerate(one.capture.steps):
        ns = round(step.after_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        if number == 0 and not step.takes and (opening or not step.after_s):
            sent = opening or driver.due(now).send
        else:
            takes = step.takes or step.sent in TAKES
            sent = driver.take(now) if takes else driver.due(now).send
        assert sent == step.sent, f"step {number}"
        driver.feed(step.received, now)
