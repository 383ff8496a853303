"""How the products of a trial are handled: cure times, the wash, codes that hide them. Any thread.

The forms of ``[trial.cure_hours]``, ``[trial.recipe]`` and ``[trial.blind]``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated

from pydantic import AfterValidator, Field

from acquire.errors import Fault
from acquire.schema import Name, Number, Schema, either, rule, show

MOST_HOURS = 10_000
MOST_STROKES = 1000
"""Of a counter, for one wash."""

CureHours = Annotated[
    dict[str, Annotated[Number, Field(ge=0, le=MOST_HOURS)]],
    Field(description="a table of stages with hours, such as applied = 24"),
]
"""Hours after its application before a zone may be measured, by stage."""


class RecipeTable(Schema):
    """How one wash is done, the same every time."""

    shampoo: Name | None = None
    dilution: Name | None = None
    pressure: Name | None = None
    mitt: Name | None = None
    order: Name | None = None
    strokes_per_wash: Annotated[int, Field(ge=1, le=MOST_STROKES)] | None = None
    notes: Name | None = None

    @rule
    def says_something(self) -> Iterator[Fault]:
        if not self.pairs():
            yield Fault("", "an empty table", f"one of {either(type(self).model_fields)}, or none")

    def pairs(self) -> tuple[tuple[str, str], ...]:
        """What is given, in the order of the file's documentation."""
        own = ((key, getattr(self, key)) for key in type(self).model_fields)
        return tuple((key, str(value)) for key, value in own if value is not None)


_DIGEST = re.compile(r"[0-9a-f]{64}")


def _digest(value: str) -> str:
    if not _DIGEST.fullmatch(value):
        raise ValueError("64 digits 0-9 and a-f, as coatbench trial new writes them")
    return value


class BlindTable(Schema):
    """Written by ``coatbench trial new --blind``: treatments are codes, the key is in the store."""

    key: Annotated[str, AfterValidator(_digest), Field(description="a SHA-256 in quotes")]


def cure_faults(
    stages: Sequence[str], cure_hours: Mapping[str, object], washes: Mapping[str, int]
) -> Iterator[Fault]:
    """Times of stages that are not there, of the bare one, or that washing settles already."""
    for stage, hours in cure_hours.items():
        path = f"cure_hours.{stage}"
        if stage not in stages:
            wanted = f"a stage of this trial: {either(dict.fromkeys(stages))}"
            yield Fault(path, show(stage), wanted)
        elif stage == stages[0]:
            yield Fault(path, show(hours), f"no time: {stage} is before any treatment")
        elif washes.get(stage, 0) > 0:
            yield Fault(path, show(hours), f"no time: {stage} comes after a count of washes")
