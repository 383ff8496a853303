"""One thing that happened to a meter, and what is said alike of all of them. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.words.wording import listed


class Event(NamedTuple):
    """One event; `place` orders it: by a check, and before or with that."""

    place: tuple[int, int]
    when: str
    title: str
    happened: str
    means: str
    done: str


def is_same_meter(one: CheckRecord, other: CheckRecord) -> bool:
    return (one.instrument, one.serial) == (other.instrument, other.serial)


def later_check(record: TrialRecord, check: CheckRecord) -> CheckRecord | None:
    return next((c for c in record.checks if c.id > check.id and is_same_meter(c, check)), None)


def verdict_of(check: CheckRecord) -> str:
    if check.is_abandoned:
        return "was abandoned"
    words = {"pass": "passed", "fail": "failed", "undecided": "was undecided"}
    return words.get(check.outcome, "has not been finished")


def read_again(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> str:
    """Whether the places of readings that became suspect have readings that count now."""
    places = {_place(r) for r in suspects}
    last = max(r.id for r in suspects)
    again = [
        r
        for r in record.readings
        if r.standing is Standing.COUNTS and r.id > last and _place(r) in places
    ]
    if not again:
        return "Their places have not been read again."
    filled = len({_place(r) for r in again})
    runs = listed([f"run {i}" for i in sorted({r.run_id or 0 for r in again})])
    which = "all of their places were" if filled == len(places) else (
        f"{filled} of their {len(places)} places {'was' if filled == 1 else 'were'}"
    )  # fmt: skip
    return f"Then {which} read again in {runs}, and the results rest on those readings."


def _place(r: ReadingRecord) -> tuple[str, str, str, int, str]:
    return (r.measure, r.zone, r.stage, r.replicate, r.channel)


def with_minus(text: str) -> str:
    """Figures with a proper minus sign; dates keep their hyphens."""
    return re.sub(r"(?<!\w)-(?=\d)", "−", text)


def sentence(text: str) -> str:
    return text and f"{text[0].upper()}{text[1:].removesuffix('.')}."
