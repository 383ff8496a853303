"""Which study is in use: for a serial number at a channel, and as of a moment.

The latest study that was finished by then and has readings enough. For a trial that is older than
every study the first study after it: it says of the same instrument what nobody had looked at in
time. A later study so never changes what an earlier trial was judged by, once one was there.
Reads only. One thread at a time uses a reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.samples.repeatability import Lent, Repeatability
from acquire.model import Quantity, StudyKind, at_channel, iso_utc
from acquire.study.found import Finding, FoundStudy


class Key(NamedTuple):
    """What a figure is of."""

    serial: str
    quantity: Quantity
    channel: str


class Candidate(NamedTuple):
    """A figure that can be lent, and when its last reading was taken."""

    study: FoundStudy
    finding: Finding
    last_utc_ns: int
    repeatability: Repeatability


Candidates = Mapping[Key, Sequence[Candidate]]


def candidates(found: Iterable[FoundStudy]) -> Candidates:
    """All figures that can be lent, the oldest first."""
    lists: dict[Key, list[Candidate]] = {}
    for study in found:
        # What is still under way would change with every reading.
        if study.kind is not StudyKind.REPEATABILITY or study.is_open:
            continue
        for finding in study.findings:
            known = _repeatability(study, finding)
            if known is not None:
                key = Key(finding.serial, study.quantity, finding.channel)
                lists.setdefault(key, []).append(
                    Candidate(study, finding, finding.last_utc_ns, known)
                )
    return {k: sorted(v, key=lambda c: c.last_utc_ns) for k, v in lists.items()}


def in_use(lists: Candidates, key: Key, at_utc_ns: int | None = None) -> Candidate | None:
    """The figure in use for a key, now or as of a moment; None where there is none."""
    mine = lists.get(key, ())
    if not mine:
        return None
    before = [c for c in mine if at_utc_ns is None or c.last_utc_ns <= at_utc_ns]
    return before[-1] if before else mine[0]


def lent_of(
    lists: Candidates,
    quantity: Quantity,
    serials: Mapping[str, Mapping[str, str]],
    at_utc_ns: int | None,
) -> Lent:
    """What is lent to a measure. `serials` has, by channel, serial numbers with instruments.

    Where several instruments read one channel each must have a study, and the largest figure is
    lent.
    """
    known: dict[str, Repeatability] = {}
    missing: dict[str, str] = {}
    for channel, instruments in serials.items():
        found = {s: in_use(lists, Key(s, quantity, channel), at_utc_ns) for s in instruments}
        lacking = [s for s, c in found.items() if c is None]
        if lacking:
            missing[channel] = default_words(lacking, instruments, channel)
        elif found:
            known[channel] = max(
                (c.repeatability for c in found.values() if c is not None), key=lambda r: r.sd
            )
    return Lent(known, missing)


def default_words(serials: Sequence[str], instruments: Mapping[str, str], channel: str) -> str:
    """What is in use where no study is, in sentences."""
    of = ", ".join(f"serial number {s}" for s in serials)
    return (
        f"No repeatability study of {of}{at_channel(channel)} is in use. The default is in use: "
        "each zone and stage is judged by the scatter of its own readings alone, and one that was "
        "read once has no uncertainty. Next: coatbench study "
        f"{instruments[serials[0]]} finds the scatter of this bench."
    )


def _repeatability(study: FoundStudy, finding: Finding) -> Repeatability | None:
    if finding.study is None:
        return None
    usable = finding.study.usable
    levels = [m for s in finding.study.spots if (m := s.precision.mean) is not None]
    if usable is None or not levels:
        return None
    return Repeatability(
        usable.sd,
        usable.nu,
        min(levels),
        max(levels),
        f"{study.name} of {iso_utc(finding.last_utc_ns)[:10]}",
    )
