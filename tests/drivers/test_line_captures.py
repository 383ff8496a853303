"""The line driver against the captures, and the captures against themselves."""

from __future__ import annotations

import pytest

from acquire.driverapi.conformance import START, violations
from acquire.model import Instant
from drivers.line import FAMILY
from tests.captures import CAPTURES, LAYOUTS, Shelved, of_layout, profile

EACH = pytest.mark.parametrize("one", CAPTURES, ids=lambda one: one.capture.name)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_driver_conforms_and_means_what_the_captures_say(layout: str) -> None:
    captures = [one.capture for one in of_layout(layout)]
    assert len(captures) >= 2
    assert violations(FAMILY, profile(layout), captures) == []


@EACH
def test_the_conversation_of_a_capture_is_its_two_binary_files(one: Shelved) -> None:
    assert one.received == one.capture.received
    assert one.sent == b"".join(step.sent for step in one.capture.steps)


@EACH
def test_a_capture_says_where_it_comes_from_and_what_happens(one: Shelved) -> None:
    assert "WIRE.md" in one.table["source"]
    assert len(one.table["story"]) > 40


@EACH
def test_the_host_sends_what_the_capture_says_when_it_says_so(one: Shelved) -> None:
    driver = FAMILY.driver(profile(one.profile), one.profile)
    now = START
    sent = driver.opening(now)
    for number, step in enumerate(one.capture.steps):
        ns = round(step.after_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        if number:
            sent = driver.take(now) if step.sent == b"M\r" else driver.due(now).send
        assert sent == step.sent, f"step {number}"
        driver.feed(step.received, now)
