"""The run under way, which readings of its instrument fill. State of the desk, its thread."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.model import Measure, Plan, Target
from acquire.pipeline.course import Course
from acquire.store.found import StoredTrial


@dataclass(slots=True)
class RunUnderWay:
    """The run that readings of `instrument` belong to."""

    id: int
    trial: StoredTrial
    plan: Plan
    measure: Measure
    stage: str
    instrument: str
    course: Course
    last_filled: int | None = None
    last_place: Target | None = None
    """Where that reading went, also once it is void."""
