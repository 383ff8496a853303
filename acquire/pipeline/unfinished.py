"""A check that the end of the daemon broke off, made anew from what the store has of it. Pure."""

from __future__ import annotations

import json
from decimal import Decimal

from acquire.model import CheckPolicy, PieceRule, Quantity
from acquire.pipeline.checking import Checking
from acquire.store.shelf import UnjudgedCheck


def unfinished(found: UnjudgedCheck) -> Checking:
    """The check with its readings, by the policy it followed."""
    checking = Checking(found.id, found.instrument, found.serial, _policy(found.policy_json))
    for reading in found.readings:
        values = checking.voided if reading.is_void else checking.readings
        values.setdefault((reading.piece, reading.channel), []).append(reading.value)
    return checking


def _policy(text: str) -> CheckPolicy:
    entry = json.loads(text)
    # Before channels had their name a policy had geometries.
    channels = entry.get("channels") or entry.get("geometries") or [""]
    return CheckPolicy(
        id=entry["id"],
        quantity=Quantity(entry["quantity"]),
        channels=tuple(channels),
        unit=entry["unit"],
        resolution=Decimal(entry["resolution"]),
        rules=tuple(
            PieceRule(
                rule["piece"],
                rule["readings"],
                Decimal(rule["limit"]),
                Decimal(rule["spread_limit"]),
            )
            for rule in entry["rules"]
        ),
        valid_for_s=entry["valid_for_s"],
        clock_jump_s=entry["clock_jump_s"],
    )
