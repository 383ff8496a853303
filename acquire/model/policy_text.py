"""A policy as text, as a check keeps it, so that it is judged by the same one later. Pure."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from acquire.model.fact import Quantity
from acquire.model.policy import AmbientRule, CheckPolicy, PieceRule, Span


def policy_text(policy: CheckPolicy) -> str:
    """The whole policy as JSON; decimals as text, so that none is rounded."""
    return json.dumps(asdict(policy), default=str, sort_keys=True)


def read_policy_text(text: str) -> CheckPolicy:
    """The policy of a text that `policy_text` made, today or in an older Coatbench."""
    entry = json.loads(text)
    # Before channels had their name a policy had geometries.
    channels = entry.get("channels") or entry.get("geometries") or [""]
    limit = entry.get("linearity_limit")
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
        valid_for_presses=entry.get("valid_for_presses"),
        idle_s=entry.get("idle_s"),
        ends_with_sitting=bool(entry.get("ends_with_sitting")),
        warm_up_s=entry.get("warm_up_s", 0.0),
        span=_span(entry.get("span")),
        linearity_limit=None if limit is None else Decimal(limit),
        ambient=_ambient(entry.get("ambient")),
    )


def _ambient(entry: Mapping[str, Any] | None) -> AmbientRule | None:
    if entry is None:
        return None
    change = entry["temperature_change_c"]
    return AmbientRule(
        entry["known_for_s"],
        _span(entry["temperature_c"]),
        None if change is None else Decimal(change),
        _span(entry["humidity_percent"]),
    )


def _span(entry: list[str] | None) -> Span | None:
    return None if entry is None else (Decimal(entry[0]), Decimal(entry[1]))
