"""The frame driver against the frames of its page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import drivers.frame
from acquire.driverapi.conformance import START
from acquire.driverapi.registry import Registry
from drivers.frame import FAMILY
from tests.captures import profile

LAYOUTS = ("frame-gloss", "frame-force", "frame-bands")
PAGE = Path(drivers.frame.__file__).with_name("WIRE.md").read_text("utf-8")


def test_the_family_is_found_by_its_name() -> None:
    assert Registry().family("frame") is FAMILY


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_frame_on_the_page_is_understood_by_the_profile_of_its_layout(layout: str) -> None:
    chapter = PAGE.split(f"## Layout `{layout}`")[1].split("\n## ")[0]
    frames = re.findall(
        r"(?m)^    ((?:A5 5A|02 [45].|8[01] 0.|00 08)(?: [0-9A-F]{2}){5,})", chapter
    )
    assert len(frames) >= 5
    table = {key: part for key, part in profile(layout).items() if key != "identify"}
    driver = FAMILY.driver(table, layout)
    for text in frames:
        facts = driver.feed(bytes.fromhex(text), START)
        assert facts, text
        assert all(fact.raw == bytes.fromhex(text) for fact in facts if fact.raw), text
        assert "Noise" not in {type(fact).__name__ for fact in facts}, text
