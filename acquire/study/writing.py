"""The plan of a study, as text: what ``coatbench study`` gives the daemon to begin a run of.

Pure; any thread.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.model import Quantity, StudyKind

PREFIX = "study-"
MEASURE = "study"
ALONE = "one-person"
"""The stage of a study of one person who was not named."""
SWITCHED_ON = "switch-on"
"""The stage of a warm-up study."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A study as it was asked for. `on` says in words what is read; `people` may be empty."""

    kind: StudyKind
    instrument: str
    quantity: Quantity
    channels: tuple[str, ...]
    spots: int
    readings: int
    people: tuple[str, ...]
    on: str


def study_id(number: int) -> str:
    return f"{PREFIX}{number}"


def study_text(number: int, wanted: Wanted) -> str:
    """The plan as TOML that `acquire.settings.parse_plan` reads."""
    is_warm_up = wanted.kind is StudyKind.WARM_UP
    stages = [SWITCHED_ON] if is_warm_up else list(wanted.people or (ALONE,))
    what = "Warm-up" if is_warm_up else "Repeatability"
    if len(stages) > 1:
        what = "Repeatability and reproducibility"
    lines = [
        "# Written by coatbench study.",
        "[trial]",
        f"id = {_text(study_id(number))}",
        f"title = {_text(f'{what} of {wanted.instrument}')}",
        f"stages = {_list(stages)}",
        f"unchecked = {'true' if is_warm_up else 'false'}",
        "[study]",
        f"kind = {_text(wanted.kind.value)}",
        "[panel]",
        f"name = {_text(wanted.on)}",
        "[[treatment]]",
        'id = "as-it-is"',
        'name = "as it is"',
        "control = true",
    ]
    for spot in spot_names(wanted.spots):
        lines += ["[[zone]]", f"id = {_text(spot)}", 'treatment = "as-it-is"']
    lines += [
        "[[measure]]",
        f"id = {_text(MEASURE)}",
        f"quantity = {_text(wanted.quantity.value)}",
        f"replicates = {wanted.readings}",
        'order = "by-zone"',
    ]
    if wanted.quantity is Quantity.GLOSS:
        lines.append(f"geometry = [{', '.join(wanted.channels)}]")
    elif wanted.quantity is Quantity.TRANSMITTANCE:
        lines.append(f"band = {_list(wanted.channels)}")
    return "\n".join(lines) + "\n"


def spot_names(count: int) -> list[str]:
    return [f"spot-{k}" for k in range(1, count + 1)]


def _text(value: str) -> str:
    # Unescaped, a JSON string is a basic string of TOML, too.
    return json.dumps(value, ensure_ascii=False)


def _list(values: Sequence[str]) -> str:
    return f"[{', '.join(map(_text, values))}]"
