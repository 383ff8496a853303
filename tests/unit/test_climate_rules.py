"""How a room is held against a policy, at its limits."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.model import AmbientRule, EndReason, Instant
from acquire.pipeline.climate import Climate, Entered

D = Decimal
RULE = AmbientRule(3600.0, (D(18), D(28)), D(3), (D(20), D(70)))
AT_CHECK = Entered(Instant(0, 0), D(22), D(50))


def room(temperature: str, humidity: str | None = "50") -> Climate:
    return Climate(
        Entered(Instant(0, 0), D(temperature), None if humidity is None else D(humidity))
    )


def after(seconds: float) -> Instant:
    return Instant(round(seconds * 1e9), round(seconds * 1e9))


def test_an_entry_holds_up_to_its_last_moment() -> None:
    assert room("21").lack(RULE, after(3600)) == ""
    assert "was entered 1:00:01 ago" in room("21").lack(RULE, after(3600.6))


@pytest.mark.parametrize(
    ("temperature", "humidity", "reason"),
    [
        ("19", "50", None), ("25", "50", None), ("22", "20", None), ("22", "70", None),
        ("18.9", "50", EndReason.TEMPERATURE), ("25.1", "50", EndReason.TEMPERATURE),
        ("22", "19.9", EndReason.HUMIDITY), ("22", "70.1", EndReason.HUMIDITY),
        ("22", None, None),
    ],
)  # fmt: skip
def test_a_limit_itself_is_inside_and_a_room_may_move_either_way(
    temperature: str, humidity: str | None, reason: EndReason | None
) -> None:
    found = room(temperature, humidity).fault(RULE, AT_CHECK)
    assert (found and found[0]) == reason


@pytest.mark.parametrize("temperature", ["18", "28"])
def test_before_a_check_only_the_span_is_asked(temperature: str) -> None:
    assert room(temperature).fault(RULE, None) is None
    beyond = D(temperature) + (D("-0.1") if temperature == "18" else D("0.1"))
    assert room(str(beyond)).fault(RULE, None) is not None
