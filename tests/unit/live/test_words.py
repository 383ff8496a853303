"""The words of the screens: figures, durations, states; nothing from outside moves the cursor."""

from __future__ import annotations

from datetime import UTC, timedelta, timezone
from types import SimpleNamespace
from typing import Any

import pytest

from acquire.errors import LinkUnavailable
from acquire.link.usb import usb_permission_step
from acquire.live.words import (
    check_step,
    check_words,
    clean,
    duration,
    figure,
    hour,
    reading_words,
)


def instrument(**check: object) -> dict[str, Any]:
    base = {"valid": False, "left_s": None, "reason": "no check", "message": "", "next_step": ""}
    return {"id": "shore", "checking": None, "check": {**base, **check}}


def under_way(piece: str | None, taken: dict[str, int]) -> dict[str, Any]:
    checking = {"piece": piece, "readings": 3, "taken": taken, "step": 1, "steps": 2, "check_id": 4}
    return {**instrument(), "checking": checking}


def test_text_from_outside_cannot_move_the_cursor_or_grow_without_end() -> None:
    assert clean("\x1b[2J82.4\r\n\x07") == "\\x1b[2J82.4 \\x07"
    assert clean("\u202e4.28") == "\\u202e4.28"
    assert len(clean("A" * 100_000)) == 400
    assert len(clean("A. Next: " * 100_000)) < 2500


def test_a_next_step_is_never_cut_however_long_what_stands_before_it() -> None:
    rule = usb_permission_step(SimpleNamespace(idVendor=0x1A2B, idProduct=1))
    told = str(LinkUnavailable("no USB device is known to be it", got="x" * 900, next_step=rule))
    assert clean(told).endswith(f"x…. Next: {rule}")
    assert 'TAG+="uaccess"' in rule


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("82.4", "82.4"),
        ("82.40", "82.40"),
        ("0", "0"),
        ("-0.1", "-0.1"),
        ("1E+2", "100"),
        ("0.80442123", "0.8044"),
        (None, "none"),
        ("NaN", "NaN"),
        ("no number", "no number"),
    ],
)
def test_a_figure_keeps_its_digits_up_to_four_decimals(value: object, shown: str) -> None:
    assert figure(value) == shown


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(-1, "0 s"), (59.9, "59 s"), (60, "1 min"), (3599, "59 min"), (11_520, "3 h 12 min")],
)
def test_a_duration_never_says_more_than_is_left(seconds: float, shown: str) -> None:
    assert duration(seconds) == shown


def test_the_hour_is_that_of_the_zone_asked_for() -> None:
    noon_ns = 1_777_896_000 * 1_000_000_000  # 2026-05-04T12:00:00Z
    assert hour(noon_ns, UTC) == "12:00:00"
    assert hour(noon_ns, timezone(timedelta(hours=2))) == "14:00:00"


def test_a_reading_without_a_value_is_called_by_its_flag() -> None:
    item = {"value": None, "unit": "gloss_unit", "channel": "20", "flags": "over-range"}
    assert reading_words(item) == "over range at 20°"
    assert reading_words({**item, "value": "82.4"}) == "82.4 GU at 20°"
    assert reading_words({**item, "value": "0.9", "unit": "one", "channel": ""}) == "0.9"


def test_a_check_is_valid_for_some_time_or_needed_for_a_reason() -> None:
    assert check_words(instrument(valid=True, left_s=11_520.0)) == "check valid for 3 h 12 min"
    assert check_words(instrument(message="shore was unplugged")) == (
        "check needed: shore was unplugged"
    )
    assert check_words(instrument()) == "check needed: no check"


def test_a_check_under_way_says_what_to_do_next() -> None:
    own = under_way("T1", {"20": 1, "60": 0})
    assert check_words(own) == "check under way: T1, 0 of 3"
    assert check_step(own) == "place shore on T1 and press 3 times"
    assert check_step(under_way("T1", {"20": 2})) == "place shore on T1 and press once"
    assert check_step(under_way(None, {"20": 0})) == ""
    light = {**under_way("N50", {"940": 0}), "kind": "transmittance"}
    assert check_step(light) == "put N50 into shore and press 3 times"
    pull = {**under_way("W200", {"": 0}), "kind": "force"}
    assert check_step(pull) == "load shore with W200 3 times, and press if it has a button"
    assert check_step({**pull, "typed": True}) == (
        "load shore with W200 and type what it shows, 3 times"
    )
    light, pull = ({**one, "can_take": True} for one in (light, pull))
    assert check_step(light) == (
        "put N50 into shore and press, or ask it (coatbench take shore), 3 times"
    )
    assert check_step(light, "t") == "put N50 into shore and press, or ask it (t), 3 times"
    assert check_step(pull, "t") == (
        "load shore with W200 3 times, and press if it has a button, or ask it (t)"
    )
    assert check_words(under_way(None, {})) == "check under way: all pieces read"
