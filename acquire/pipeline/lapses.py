"""What ends a pass before its time is over: nobody uses it, or the room has changed. Pure."""

from __future__ import annotations

from datetime import timedelta

from acquire.model import EndReason, Instant
from acquire.pipeline.climate import Climate
from acquire.pipeline.standing import Standing


def lapsed(
    standing: Standing, climate: Climate, now: Instant
) -> tuple[EndReason, str, Instant] | None:
    """What of its policy ends the pass of an instrument, in words, and when it did."""
    policy, name = standing.spec.policy, standing.spec.id
    used_at = standing.used_at
    if policy.idle_s is not None and used_at is not None:
        idle_s = now.seconds_since(used_at)
        if idle_s >= policy.idle_s:
            told = f"no press of {name} for {timedelta(seconds=policy.idle_s)} (h:mm:ss)"
            return EndReason.IDLE, told, used_at.later(policy.idle_s)
    if policy.ambient is not None:
        if lack := climate.lack(policy.ambient, now):
            step = "enter it (coatbench climate TEMPERATURE) before the next check"
            told = f"{lack}; the check of {name} needs it: {step}"
            return EndReason.CLIMATE_UNKNOWN, told, climate.known_until(policy.ambient, now)
        fault = climate.fault(policy.ambient, standing.climate)
        if fault is not None:
            reason, found = fault
            return reason, f"{found}; the check of {name} ended with that", now
    return None
