"""The keyed driver against the captures, and the captures against themselves."""

from __future__ import annotations

import pytest

from acquire.driverapi.conformance import violations
from drivers.keyed import FAMILY
from tests.captures import Shelved, of_layout, profile

LAYOUT = "keyed-gloss"
CAPTURES = of_layout(LAYOUT)
EACH = pytest.mark.parametrize("one", CAPTURES, ids=lambda one: one.capture.name)


def test_the_driver_conforms_and_means_what_the_captures_say() -> None:
    assert len(CAPTURES) >= 4
    assert violations(FAMILY, profile(LAYOUT), [one.capture for one in CAPTURES]) == []


@pytest.mark.parametrize("name", ["keyed-gloss-20", "keyed-force", "keyed-bands"])
def test_every_other_profile_that_ships_conforms_too(name: str) -> None:
    assert violations(FAMILY, profile(name), []) == []


@EACH
def test_what_was_typed_in_a_capture_is_its_binary_file_and_nothing_was_sent(one: Shelved) -> None:
    assert one.received == one.capture.received
    assert one.sent == b""


@EACH
def test_a_capture_says_where_it_comes_from_and_what_happens(one: Shelved) -> None:
    assert "WIRE.md" in one.table["source"]
    assert len(one.table["story"]) > 40
