"""The hid driver against its captures, and the captures against themselves."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from acquire.driverapi.capture import Capture, capture
from acquire.driverapi.conformance import START, violations
from acquire.model import Instant
from drivers.hid import FAMILY
from tests.captures import FOLDER, profile

LAYOUTS = ("hid-weighing", "hid-gloss", "hid-force")
PATHS = [path for layout in LAYOUTS for path in sorted((FOLDER / layout).glob("*.toml"))]
EACH = pytest.mark.parametrize("path", PATHS, ids=lambda path: f"{path.parent.name}/{path.stem}")


def read(path: Path) -> Capture:
    return capture(tomllib.loads(path.read_text("utf-8")), path.stem)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_driver_conforms_and_means_what_the_captures_say(layout: str) -> None:
    captures = [read(path) for path in PATHS if path.parent.name == layout]
    assert len(captures) >= 3
    assert violations(FAMILY, profile(layout), captures) == []


@EACH
def test_the_conversation_of_a_capture_is_its_two_binary_files(path: Path) -> None:
    one = read(path)
    assert path.with_suffix(".received").read_bytes() == one.received
    assert path.with_suffix(".sent").read_bytes() == b"".join(step.sent for step in one.steps)


@EACH
def test_the_host_sends_what_the_capture_says_when_it_says_so(path: Path) -> None:
    driver = FAMILY.driver(profile(path.parent.name), path.stem)
    now = START
    assert driver.opening(now) == b""
    for number, step in enumerate(read(path).steps):
        ns = round(step.after_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        sent = driver.take(now) if step.takes else driver.due(now).send
        assert sent == step.sent, f"step {number}"
        driver.feed(step.received, now)
    assert driver.due(now).send == b""
