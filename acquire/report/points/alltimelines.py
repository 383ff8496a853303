"""The table over all trials in sentences and rows, for the terminal. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acquire.analysis.scoring.printing import printed
from acquire.model import at_channel
from acquire.model.past import PastKind
from acquire.report.points.alltime import IMPORTED, AllTime, Entry, Group, PastEntry, PastGroup
from acquire.report.points.scorelines import span_text
from acquire.report.words.tabled import MARK, NONE, Cells, Table
from acquire.report.words.wording import listed
from acquire.units import canonical, symbol
from acquire.visible import shortened

_LONGEST = 60
_MOST_NAMED = 10

TIE_WORDS = (
    "“First together, a tie” are totals that are not shown to be behind the first of their group: "
    "the difference is no larger than the 95 % uncertainty of both together, for all of the group "
    "at once, or a life that had not ended could make up for it. Two products of one trial stand "
    "as its own page has them, where their shared control cancels."
)


def told(found: AllTime) -> list[str]:
    """What may be compared and what not, and which points are out of date."""
    lines = [f"All trials by the scorecard {found.title}."]
    if found.alike:
        lines.append(f"Alike in all: {_pairs(found.alike)}.")
    if len(found.groups) > 1:
        lines.append(
            f"Only totals of one group may be compared. There are {len(found.groups)} groups, "
            f"because these differ: {listed(list(found.differs))}."
        )
    elif found.groups:
        lines.append("All totals may be compared: nothing that matters for them differs.")
    else:
        lines.append("No trial has points yet.")
    if found.groups:
        lines.append(TIE_WORDS)
    return lines


def due(found: AllTime) -> list[str]:
    """What is out of date or missing, with the command to type."""
    lines = []
    for trial, why in found.stale:
        lines.append(f"OUT OF DATE: {trial}, since {listed(list(why))}")
    if found.stale:
        lines.append(_rescore([t for t, _ in found.stale], found.scorecard))
    if found.damaged:
        lines.append(f"Points that cannot be read: {listed(list(found.damaged))}")
        lines.append(_rescore(found.damaged, found.scorecard))
    if found.unscored:
        names = list(found.unscored)
        lines.append(f"Without points by this scorecard: {listed(_few(names))}")
        lines.append(_rescore(found.unscored, found.scorecard))
    return lines


def _few(names: Sequence[str]) -> list[str]:
    if len(names) <= _MOST_NAMED:
        return list(names)
    return [*names[: _MOST_NAMED - 1], f"{len(names) - _MOST_NAMED + 1} more"]


def _rescore(trials: Sequence[str], scorecard: str) -> str:
    # Of many it is shorter to score all; what is up to date stays as it is.
    named = f"{' '.join(trials)} " if len(trials) <= _MOST_NAMED else ""
    return f"next: coatbench rescore {named}--scorecard {scorecard}"


def tables(found: AllTime) -> Iterator[Table]:
    """One table a group."""
    for number, group in enumerate(found.groups, 1):
        apart = f": {_pairs(group.apart)}" if group.apart else ""
        yield Table(f"Group {number}{apart}", tuple(_rows(group)))


def _rows(group: Group) -> Iterator[Cells]:
    yield ("", "TREATMENT", "POINTS", "95 %", "TRIAL", "REMARK")
    for number, entry in enumerate(group.entries, 1):
        p = entry.product
        assert p.total is not None
        least = "at least " if p.is_at_least else ""
        yield (
            str(number),
            shortened(entry.name, _LONGEST),
            f"{least}{printed(p.total, group.decimals)}",
            span_text(group.decimals, p),
            entry.trial,
            _remark(entry, is_first=number == 1, has_ties=any(e.is_tied for e in group.entries)),
        )


def _remark(entry: Entry, *, is_first: bool, has_ties: bool) -> str:
    said = []
    if entry.is_tied or (is_first and has_ties):
        said.append("first together, a tie")
    elif is_first:
        said.append("first")
    if entry.is_blind:
        said.append("blind, by its code")
    if entry.product.is_late:
        said.append(f"{MARK}: rests on readings of a surface that was gone")
    if entry.stale:
        said.append("OUT OF DATE")
    return ", ".join(said)


def past_lines(groups: Sequence[PastGroup]) -> list[str]:
    """What is said above imported figures."""
    if not groups:
        return []
    return [
        "Imported and unchecked: figures of earlier years as a file had them. No reading is behind "
        "them that this store could show, and they are compared with no trial of it. Only figures "
        "of one group may be compared with one another, as far as the file tells how they were "
        "made. Places go by the figures alone, and “=” is a shared one: no difference is tested."
    ]


def past_tables(groups: Sequence[PastGroup]) -> Iterator[Table]:
    """One table a group of imported figures."""
    for group in groups:
        what = f"{group.quantity}{at_channel(group.channel)}"
        parts = [what, *([group.stage] if group.stage else [])]
        conditions = f"; {_pairs(group.conditions)}" if group.conditions else ""
        better = "higher" if group.higher_is_better else "lower"
        yield Table(
            f"{IMPORTED}: {group.figure} ({', '.join(parts)}; {better} is better{conditions})",
            tuple(_past_rows(group)),
        )


def _past_rows(group: PastGroup) -> Iterator[Cells]:
    quantity = PastKind(group.quantity).quantity
    sign = "" if quantity is None else symbol(canonical(quantity))
    unit = f", {sign}" if sign else ""
    yield ("", "TREATMENT", f"VALUE{unit}", "± 95 %", "TRIAL", "FROM")
    for place, e in zip(group.places(), group.entries, strict=True):
        least = "at least " if e.is_at_least else ""
        yield (
            place, shortened(e.row.treatment, _LONGEST), least + e.row.value.replace("-", "−"),
            e.row.expanded_uncertainty or NONE, shortened(e.row.trial, _LONGEST), _source(e),
        )  # fmt: skip


def _source(entry: PastEntry) -> str:
    return f"{IMPORTED}: {shortened(entry.file, _LONGEST)}, line {entry.row.line}"


def _pairs(pairs: Sequence[tuple[str, str]]) -> str:
    return "; ".join(f"{what}: {value}" for what, value in pairs)
