"""How many readings of a stage a later check closed, and what is known of the others' drift.

One sentence for each stage, so that all results of the stage say the same of it. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from acquire.analysis.cells.cell import Cell
from acquire.analysis.checks.bracket import Bracket

_MISSING = "is not in the uncertainty."

_ALONE = {
    "open": "No closing check after {stage} is known yet: a drift of the meter there " + _MISSING,
    "broken": "The meter was re-adjusted after {stage}, before a closing check: a drift of the "
    "meter there " + _MISSING,
    "told": "No passed check has closed {stage}, so what its readings rest on is not confirmed. "
    "What a check that closed nothing found of the drift there is in the uncertainty.",
    "unchecked": "Readings at {stage} lie under no check: what the meter did there " + _MISSING,
}
_PARTS = {
    "closed": "{n} closed by a later check",
    "open": "{n} without a closing check so far",
    "broken": "{n} cut off from the next check because the meter was re-adjusted before it",
    "told": "{n} before a check that closed nothing, with the drift that it found",
    "unchecked": "{n} under no check",
}
_KNOWN = ("closed", "told")
"""What the meter did around these is in the uncertainty."""


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
        lacking = total - sum(here[state] for state in _KNOWN)
        rest = f"the other {lacking}" if lacking < total else "them"
        missing = f" What the meter did around {rest} {_MISSING}" if lacking else ""
        said[stage] = f"Of the {total} readings at {stage}: {parts}.{missing}{_since(found, stage)}"
    return said


def _since(found: Mapping[str, Mapping[str, None]], stage: str) -> str:
    """What checks that closed nothing have found all the same."""
    told = "; ".join(found.get(stage, ()))
    return f" Since then {told}: so much is known of it." if told else ""


def _state(bracket: Bracket | None) -> str:
    if bracket is None:
        return "unchecked"
    if bracket.drift is not None:
        return "told" if bracket.is_unconfirmed else "closed"
    return "broken" if bracket.is_broken else "open"
