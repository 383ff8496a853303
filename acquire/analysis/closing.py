"""How many readings of a stage a later check closed, and why the others have no known drift.

One sentence for each stage, so that all results of the stage say the same of it. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from acquire.analysis.bracket import Bracket
from acquire.analysis.cell import Cell

_MISSING = "is not in the uncertainty."

_ALONE = {
    "open": "No closing check after {stage} is known yet: a drift of the meter there " + _MISSING,
    "broken": "The meter was re-adjusted after {stage}, before a closing check: a drift of the "
    "meter there " + _MISSING,
    "unchecked": "Readings at {stage} lie under no check: what the meter did there " + _MISSING,
}
_PARTS = {
    "closed": "{n} closed by a later check",
    "open": "{n} without a closing check so far",
    "broken": "{n} cut off from the next check because the meter was re-adjusted before it",
    "unchecked": "{n} under no check",
}


def unclosed_sentences(cells: Iterable[Cell]) -> dict[str, str]:
    """A sentence for each stage with readings whose drift is not known, by stage."""
    counts: dict[str, dict[str, int]] = {}
    found: dict[str, dict[str, None]] = {}
    for cell in cells:
        for holding in cell.holdings:
            here = counts.setdefault(cell.stage, dict.fromkeys(_PARTS, 0))
            here[_state(holding.bracket)] += holding.readings
            if holding.bracket is not None and holding.bracket.between:
                found.setdefault(cell.stage, {})[holding.bracket.between] = None
    said = {}
    for stage, here in counts.items():
        present = {state: n for state, n in here.items() if n}
        if set(present) == {"closed"}:
            continue
        if len(present) == 1:
            said[stage] = _ALONE[next(iter(present))].format(stage=stage) + _since(found, stage)
            continue
        parts = ", ".join(_PARTS[state].format(n=n) for state, n in present.items())
        total = sum(present.values())
        rest = f"the other {total - here['closed']}" if here["closed"] else "them"
        said[stage] = (
            f"Of the {total} readings at {stage}: {parts}. What the meter did "
            f"around {rest} {_MISSING}{_since(found, stage)}"
        )
    return said


def _since(found: Mapping[str, Mapping[str, None]], stage: str) -> str:
    """What checks that closed nothing have found all the same."""
    told = "; ".join(found.get(stage, ()))
    return f" Since then {told}: so much is known of it." if told else ""


def _state(bracket: Bracket | None) -> str:
    if bracket is None:
        return "unchecked"
    if bracket.drift is not None:
        return "closed"
    return "broken" if bracket.is_broken else "open"
