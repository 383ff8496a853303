"""What is asked of a calculation, and what it answers: plain values, fit for JSON. Any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
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

    `is_known` is False where no calculation has that name. `unread` are inputs that the calculation
    did not look at: whatever they say, the answer is the same.
    """

    values: Mapping[str, Any] | None = None
    why: str = ""
    is_known: bool = True
    unread: tuple[str, ...] = ()


class Watched(Mapping[str, Any]):
    """Inputs, and which of them were looked at by name; whoever goes through all looks at all."""

    def __init__(self, inputs: Mapping[str, Any]) -> None:
        self._inputs = inputs
        self._asked = {ASKED, WORDS}

    def __getitem__(self, name: str) -> Any:
        self._asked.add(name)
        return self._inputs[name]

    def __iter__(self) -> Iterator[str]:
        self._asked |= set(self._inputs)
        return iter(self._inputs)

    def __len__(self) -> int:
        return len(self._inputs)

    @property
    def unread(self) -> tuple[str, ...]:
        """Inputs that nobody has looked at yet, in their order."""
        return tuple(name for name in self._inputs if name not in self._asked)
