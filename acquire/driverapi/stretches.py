"""Stretches of samples put together again: facts that can be compared whatever the chunks. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from acquire.driverapi.fit_samples import COUNT_BYTES
from acquire.model import Fact, Samples


def joined(facts: Iterable[Fact]) -> list[Fact]:
    """The facts, with samples that follow on one another as one stretch."""
    found: list[Fact] = []
    for fact in facts:
        last = found[-1] if found else None
        if isinstance(fact, Samples) and isinstance(last, Samples) and _goes_on(last, fact):
            found[-1] = replace(last, counts=last.counts + fact.counts, end=fact.end, at=fact.at)
        else:
            found.append(fact)
    return found


def raw_of(fact: Fact) -> bytes:
    """The bytes that a fact carries; samples point to theirs on the tape."""
    return b"" if isinstance(fact, Samples) else fact.raw


def _goes_on(last: Samples, more: Samples) -> bool:
    return more.first == last.first + len(last.counts) // COUNT_BYTES and (
        more.unit,
        more.channel,
        more.step,
        more.rate_hz,
    ) == (last.unit, last.channel, last.step, last.rate_hz)
