"""Cases held against what the program answers. Pure; any thread.

A case agrees when every quantity that is expected comes out within its tolerance. Words and truths
are compared as they are, lists element by element.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from acquire.verify.casefile import Case, CaseFile, Entry, Tolerance, is_loose
from acquire.verify.task import ASKED, WORDS, Answer, Task

Asking = Callable[[Sequence[Task]], Iterable[Answer]]


class Verdict(StrEnum):
    """What came of a case."""

    AGREES = "agrees"
    DIFFERS = "DIFFERS"
    NO_ANSWER = "NO ANSWER"
    """The calculation cannot answer these inputs."""
    UNKNOWN = "UNKNOWN"
    """No calculation has that name: the case was not run."""
    FAULTY = "FAULTY"
    """It is no case of the form: it was not run."""

    @property
    def is_right(self) -> bool:
        return self is Verdict.AGREES


@dataclass(frozen=True, slots=True)
class Compared:
    """One quantity of a case. `given` says whether there was an answer; `got` is worth nothing
    without. `astray` are the places of the elements of a list that differ."""

    key: str
    given: bool
    got: Any
    wanted: Any
    tolerance: Tolerance | None
    agrees: bool
    astray: tuple[int, ...] = ()

    @property
    def is_loose(self) -> bool:
        """Whether zero and the opposite sign would agree, too, so that only the size is proved."""
        return is_loose(self.wanted, self.tolerance)


@dataclass(frozen=True, slots=True)
class Verified:
    """An entry of a case file and what came of it; `why` says what kept it from being compared.

    `unread` are inputs of which the case proves nothing, for its calculation looks at none of them.
    """

    entry: Entry
    verdict: Verdict
    compared: tuple[Compared, ...] = ()
    why: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def loose(self) -> tuple[str, ...]:
        """Quantities of which zero and the opposite sign would agree, too."""
        return tuple(one.key for one in self.compared if one.is_loose)


@dataclass(frozen=True, slots=True)
class VerifiedFile:
    """A case file and what came of its entries, but for the `left_out` that nobody asked for."""

    file: CaseFile
    entries: tuple[Verified, ...]
    left_out: int

    @property
    def is_right(self) -> bool:
        """Whether all of it could be read and all that was asked for agrees; nothing does not."""
        if self.file.fault is not None or not (self.entries or self.left_out):
            return False
        return all(one.verdict.is_right for one in self.entries)


def verify_files(
    files: Sequence[CaseFile], ask: Asking, areas: frozenset[str] = frozenset()
) -> list[VerifiedFile]:
    """Every case of these `areas`, of all without any; one that has no known area is never left
    out. `ask` is asked once, for all."""
    chosen = [[e for e in f.entries if not areas or e.area in areas | {""}] for f in files]
    tasks = [task_of(e.case) for part in chosen for e in part if e.case is not None]
    given = iter(list(ask(tasks)) if tasks else [])
    return [
        VerifiedFile(
            file,
            tuple(_verified(e, next(given) if e.case is not None else None) for e in part),
            len(file.entries) - len(part),
        )
        for file, part in zip(files, chosen, strict=True)
    ]


def task_of(case: Case) -> Task:
    """What is asked for a case."""
    return Task(case.calc, {**case.inputs, ASKED: list(case.expected), WORDS: case.quantity})


def _verified(entry: Entry, answer: Answer | None) -> Verified:
    if entry.case is None or answer is None:
        return Verified(entry, Verdict.FAULTY, why=tuple(map(str, entry.faults)))
    return verify_case(entry.case, answer)


def verify_case(case: Case, answer: Answer) -> Verified:
    """The case beside what was answered."""
    entry = Entry(case.id, case.area, case, ())
    if not answer.is_known:
        return Verified(entry, Verdict.UNKNOWN, why=(answer.why,))
    values = answer.values
    if values is None:
        return Verified(entry, Verdict.NO_ANSWER, why=(answer.why,))
    compared = tuple(_compare(case, key, values) for key in case.expected)
    missing = [one.key for one in compared if not one.given]
    why = (f"{case.calc} answers with {', '.join(values) or 'nothing'}",) if missing else ()
    is_right = all(one.agrees for one in compared)
    verdict = Verdict.AGREES if is_right else Verdict.DIFFERS
    return Verified(entry, verdict, compared, why, answer.unread)


def _compare(case: Case, key: str, values: Any) -> Compared:
    wanted, tolerance = case.expected[key], case.tolerance_of(key)
    if key not in values:
        return Compared(key, False, None, wanted, tolerance, False)
    got = values[key]
    astray: tuple[int, ...] = ()
    if isinstance(wanted, list) and isinstance(got, list) and len(wanted) == len(got):
        pairs = enumerate(zip(got, wanted, strict=True))
        astray = tuple(k for k, (g, w) in pairs if not agree(g, w, tolerance))
    return Compared(key, True, got, wanted, tolerance, agree(got, wanted, tolerance), astray)


def agree(got: Any, wanted: Any, tolerance: Tolerance | None) -> bool:
    """Whether an answer is what was expected. What is no number never is one."""
    if isinstance(wanted, list):
        return (
            isinstance(got, list)
            and len(got) == len(wanted)
            and all(agree(g, w, tolerance) for g, w in zip(got, wanted, strict=True))
        )
    if wanted is None or got is None:
        return wanted is None and got is None
    if isinstance(wanted, bool | str) or isinstance(got, bool | str):
        return type(got) is type(wanted) and bool(got == wanted)
    if not isinstance(wanted, int | float) or not isinstance(got, int | float):
        return False
    if tolerance is None or not _is_finite(got):
        return False
    return abs(float(got) - wanted) <= tolerance.of(wanted)


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond binary64
        return False
