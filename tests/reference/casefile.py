"""Reading and judging case files: one list of cases, one case a line.

A case has `id`, `calc`, `quantity`, `inputs`, `expected`, `tolerance`, `source`, `status`, and
sometimes `note` and `published` (digits as printed). It passes when for every key of `expected`
|got - expected| <= abs + rel |expected| by its own entry in `tolerance`, or by ``*``. Words,
booleans and null (nothing there) are compared as they are, lists element by element. Nothing in a
file is run as code.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "cases"
ASKED, WORDS = "asked", "words"
"""What a calculation is told beside its inputs: the names of what is expected, and the words of
the quantity. Files exist in which nothing else tells two tests of one name apart."""
WANTED = ("id", "calc", "quantity", "inputs", "expected", "tolerance", "source", "status")


@dataclass(frozen=True)
class Case:
    id: str
    calc: str
    quantity: str
    inputs: Mapping[str, Any]
    expected: Mapping[str, Any]
    tolerance: Mapping[str, Any]
    source: str
    status: str


def read(path: Path) -> list[Case]:
    """The cases of one file; KeyError names a part that is missing."""
    rows = json.loads(path.read_text(encoding="utf-8"))
    return [Case(**{key: row[key] for key in WANTED}) for row in rows]


def faults(
    case: Case, calcs: Mapping[str, Callable[[Mapping[str, Any]], Mapping[str, Any]]]
) -> list[str]:
    """What is wrong, a line each; empty when the case passes."""
    calc = calcs.get(case.calc)
    if calc is None:
        return [f"{case.calc} is not known: the case was not run"]
    if not case.expected:
        return ["nothing is expected: the case proves nothing"]
    got = calc({**case.inputs, ASKED: tuple(case.expected), WORDS: case.quantity})
    found = []
    for key, wanted in case.expected.items():
        tolerance = case.tolerance.get(key, case.tolerance.get("*"))
        if key not in got:
            found.append(f"{key}: no answer, wanted {wanted}")
        elif not _agree(got[key], wanted, tolerance):
            found.append(f"{key}: got {got[key]}, wanted {wanted} within {tolerance}")
    return found


def _agree(got: Any, wanted: Any, tolerance: Mapping[str, float] | None) -> bool:
    if isinstance(wanted, list):
        return (
            isinstance(got, list)
            and len(got) == len(wanted)
            and all(_agree(g, w, tolerance) for g, w in zip(got, wanted, strict=True))
        )
    if wanted is None or got is None:
        return wanted is None and got is None
    if isinstance(wanted, bool | str) or isinstance(got, bool | str):
        return type(got) is type(wanted) and got == wanted
    if tolerance is None or not math.isfinite(got):
        return False
    room = tolerance.get("abs", 0.0) + tolerance.get("rel", 0.0) * abs(wanted)
    return abs(got - wanted) <= room
