"""What is asked of a calculation, and what it answers: plain values, fit for JSON. Any thread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

ASKED, WORDS = "asked", "words"
"""What a calculation is told beside its inputs: the names of what is expected, and the words of
the quantity. Files exist in which nothing else tells two tests of one name apart."""


@dataclass(frozen=True, slots=True)
class Task:
    """Which calculation, and all that it is told."""

    calc: str
    inputs: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back, by name; `values` is None where nothing did, and `why` says so.

    `is_known` is False where no calculation has that name.
    """

    values: Mapping[str, Any] | None = None
    why: str = ""
    is_known: bool = True
