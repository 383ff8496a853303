"""What a policy holds an instrument to otherwise than at the last check, in words. Pure.

Whoever may write a policy may change its limits. So that it is done openly it is said where the
daemon starts and in the status, until a check is begun by it, whose verdict and report say it then.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from acquire.model import CheckPolicy
from acquire.units import as_entered, symbol


def limits_changed(before: CheckPolicy, now: CheckPolicy, check_id: int) -> list[str]:
    """A sentence for each limit that is another than at that check; none where none is."""
    return [f"policy {now.id}: {text}" for text in _changes(before, now, f"at check {check_id}")]


def _changes(before: CheckPolicy, now: CheckPolicy, then: str) -> Iterator[str]:
    if before.unit != now.unit:
        yield f"its limits are in {now.unit} now and were in {before.unit} {then}"
        return
    unit = f" {symbol(now.unit)}".rstrip()
    was = {rule.piece: rule for rule in before.rules}
    for rule in now.rules:
        old = was.pop(rule.piece, None)
        if old is None:
            yield f"{rule.piece} is read now and was not {then}"
            continue
        for what, new_limit, old_limit in (
            (f"limit of {rule.piece}", rule.limit, old.limit),
            (f"spread limit of {rule.piece}", rule.spread_limit, old.spread_limit),
        ):
            if new_limit != old_limit:
                yield _otherwise(what, new_limit, old_limit, unit, then)
        if rule.readings != old.readings:
            yield f"{rule.piece} is read {rule.readings} × now and was {old.readings} × {then}"
    for piece in was:
        yield f"{piece} is not read any more and was {then}"
    new_line, old_line = now.linearity_limit, before.linearity_limit
    if new_line is None or old_line is None:
        if new_line != old_line:
            told = "no straight line any more" if new_line is None else "a straight line now"
            yield f"it holds the meter to {told}, otherwise than {then}"
    elif new_line != old_line:
        yield _otherwise("linearity limit", new_line, old_line, unit, then)


def _otherwise(what: str, now: Decimal, before: Decimal, unit: str, then: str) -> str:
    how = "loosened" if now > before else "tightened"
    shown = f"{as_entered(now)}{unit} now and was {as_entered(before)}{unit} {then}"
    return f"the {what} is {shown}: {how}"
