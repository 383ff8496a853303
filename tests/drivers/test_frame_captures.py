"""The frame driver against the captures, and the captures against themselves."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import drivers.frame
from acquire.driverapi.conformance import START, violations
from acquire.driverapi.registry import Registry
from acquire.model import Instant
from drivers.frame import FAMILY
from tests.captures import Shelved, of_layout, profile

LAYOUTS = ("frame-gloss", "frame-force", "frame-bands")
CAPTURES = [one for layout in LAYOUTS for one in of_layout(layout)]
EACH = pytest.mark.parametrize("one", CAPTURES, ids=lambda one: one.capture.name)
TAKE = b"\x02M\x03"
PAGE = Path(drivers.frame.__file__).with_name("WIRE.md").read_text("utf-8")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_driver_conforms_and_means_what_the_captures_say(layout: str) -> None:
    captures = [one.capture for one in of_layout(layout)]
    assert len(captures) >= 5
    assert violations(FAMILY, profile(layout), captures) == []


def test_the_family_is_found_by_its_name() -> None:
    assert Registry().family("frame") is FAMILY


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
            sent = driver.take(now) if step.sent == TAKE else driver.due(now).send
        assert sent == step.sent, f"step {number}"
        driver.feed(step.received, now)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_frame_on_the_page_is_understood_by_the_profile_of_its_layout(layout: str) -> None:
    chapter = PAGE.split(f"## Layout `{layout}`")[1].split("\n## ")[0]
    frames = re.findall(
        r"(?m)^    ((?:A5 5A|02 [45].|8[01] 0.|00 08)(?: [0-9A-F]{2}){5,})", chapter
    )
    assert len(frames) >= 5
    driver = FAMILY.driver(profile(layout), layout)
    for text in frames:
        facts = driver.feed(bytes.fromhex(text), START)
        assert facts, text
        assert all(fact.raw == bytes.fromhex(text) for fact in facts if fact.raw), text
        assert "Noise" not in {type(fact).__name__ for fact in facts}, text
