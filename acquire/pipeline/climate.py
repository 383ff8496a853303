"""The climate of the room: what was entered last, and what of it keeps or ends a pass. Pure state.

A meter's lamp and a sample's surface follow the temperature, and so the check that was made at
another one says little. Nobody but a person or a probe knows it, so it is entered.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from acquire.model import AmbientRule, EndReason, Instant, Span


@dataclass(frozen=True, slots=True)
class Entered:
    """Temperature in degrees Celsius and relative humidity (None where it was not entered).

    `source` is the climate probe that told it; empty where a person typed it in.
    """

    at: Instant
    temperature_c: Decimal
    humidity_percent: Decimal | None = None
    source: str = ""


@dataclass(slots=True)
class Climate:
    """The latest entry of the room's climate; None before the first."""

    latest: Entered | None = None

    def lack(self, rule: AmbientRule, at: Instant) -> str:
        """Why it is not known how the room is; nothing where it is."""
        entered = self.latest
        if entered is None:
            return "nobody has entered the room's climate"
        age_s = at.seconds_since(entered.at)
        if age_s > rule.known_for_s:
            return (
                f"the room's climate was entered {_told(age_s)} ago, and holds for "
                f"{_told(rule.known_for_s)} (h:mm:ss)"
            )
        if rule.humidity_percent is not None and entered.humidity_percent is None:
            return "the humidity was not entered"
        return ""

    def known_until(self, rule: AmbientRule, at: Instant) -> Instant:
        """Until when the latest entry told how the room is; `at` where that has not run out."""
        if self.latest is None:
            return at
        return min(at, self.latest.at.later(rule.known_for_s), key=lambda one: one.mono_ns)

    def fault(self, rule: AmbientRule, checked: Entered | None) -> tuple[EndReason, str] | None:
        """What of the latest entry the rule does not allow; `checked` was so at the check."""
        entered = self.latest
        if entered is None:
            return None
        temperature, humidity = entered.temperature_c, entered.humidity_percent
        if not _within(temperature, rule.temperature_c):
            wanted = _span(rule.temperature_c, "°C")
            return EndReason.TEMPERATURE, f"the room has {temperature} °C, wanted {wanted}"
        if humidity is not None and not _within(humidity, rule.humidity_percent):
            wanted = _span(rule.humidity_percent, "%")
            return EndReason.HUMIDITY, f"the room has {humidity} % humidity, wanted {wanted}"
        moved = rule.temperature_change_c
        if moved is not None and checked is not None:
            by = temperature - checked.temperature_c
            if abs(by) > moved:
                return (
                    EndReason.TEMPERATURE,
                    f"the room has {temperature} °C, {by:+} °C from the "
                    f"{checked.temperature_c} °C of the check; allowed are {moved} °C",
                )
        return None


def _within(value: Decimal, span: Span | None) -> bool:
    return span is None or span[0] <= value <= span[1]


def _span(span: Span | None, unit: str) -> str:
    return "" if span is None else f"{span[0]} to {span[1]} {unit}"


def _told(seconds: float) -> str:
    return str(timedelta(seconds=round(seconds)))
