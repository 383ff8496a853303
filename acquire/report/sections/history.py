"""What a page says of the history of a piece, and what its charts mean. Pure; any thread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.drift.early import early
from acquire.drift.foreseen import Block, block_words, blocks, latest_blocks
from acquire.drift.history import Seen
from acquire.drift.words import adjustments, ahead, cuts, last, latest, state, trend
from acquire.history.lack import Lack
from acquire.report.plots.history import control_plots, trend_plot
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.sections.gallery import MOST_PORTIONS, Drawing, Gallery
from acquire.report.words.wording import counted
from acquire.units import symbol

OPEN_AT_MOST = 6
"""A page with more histories than these shows open only those that warn."""


class Aid(NamedTuple):
    """What a chart shows, in two sentences with their source."""

    chart: str
    text: str


READING_AID = (
    Aid(
        "Trend",
        "Each point is a check: what the meter read on the reference piece less what its "
        "certificate says; full lines are the limits of the check policy, broken lines mark from "
        "where on a check is undecided. The broken slanting line is fitted by least squares to the "
        "checks since the last change (while those are too few, to the checks before the last one "
        "that was foreseen not to pass), and the shaded band is where one further check is "
        "expected (95 %, NIST/SEMATECH e-Handbook, 4.5.2.2).",
    ),
    Aid(
        "Individuals",
        "The shaded first checks set the centre and the broken lines, three times their scatter "
        "away; a later check beyond these, or a row of checks on one side, is crossed, since "
        "chance alone rarely does that. The limits say what is usual for this meter, not what is "
        "allowed (ISO 7870-2; e-Handbook, 6.3.2.2).",
    ),
    Aid(
        "Moving range",
        "The step from each check to the next, without its sign; the broken line is the largest "
        "that chance explains. A cross says that the meter, the piece or the hand jumped (ISO "
        "7870-2; e-Handbook, 6.3.2.2).",
    ),
    Aid(
        "EWMA",
        "A running average in which each new check weighs a fifth, so that a small but lasting "
        "shift shows that no single check betrays. Between the broken lines it is only chance (ISO "
        "7870-6; e-Handbook, 6.3.2.4).",
    ),
    Aid(
        "CUSUM",
        "Two sums that grow while checks lie above (the upper) or below (the lower) the centre, "
        "counted in scatters, and fall back to zero otherwise. Beyond a broken line the meter has "
        "shifted, and the sum left zero about when that began; it is drawn no higher than four "
        "times that line (ISO 7870-4; e-Handbook, 6.3.2.3).",
    ),
)


class HistoryBlock(NamedTuple):
    """All a page shows of one history. `rows` are (heading, text)."""

    id: str
    title: str
    state: str
    is_open: bool
    rows: tuple[tuple[str, str], ...]
    warnings: tuple[tuple[str, str], ...]
    charts: Gallery
    adjustments: tuple[tuple[str, str, str], ...]


class OverviewRow(NamedTuple):
    id: str
    meter: str
    place: str
    checks: int
    last: str
    limit: str
    left: str
    state: str


def history_blocks(found: Sequence[Seen], pasts: Sequence[Sequence[Block]]) -> list[HistoryBlock]:
    """A block for each history, in their order; `pasts` has what happened before in each."""
    return [
        _block(f"h{k}", seen, past, len(found))
        for k, (seen, past) in enumerate(zip(found, pasts, strict=True))
    ]


def overview(found: Sequence[Seen]) -> list[OverviewRow]:
    """A row for each history; ids as in `history_blocks`."""
    return [
        OverviewRow(
            f"h{k}",
            meter(seen),
            seen.history.place,
            len(seen.history.series),
            latest(seen),
            f"{seen.history.limit:.3g} {symbol(seen.history.key.unit)}".rstrip(),
            _left(seen),
            state(seen),
        )
        for k, seen in enumerate(found)
    ]


def early_lines(found: Sequence[Seen]) -> list[str]:
    """The short warnings of meters in use, in the order of the histories."""
    told = [early(seen) for seen in found if seen.history.is_present]
    return [e.text for e in told if e is not None]


def foreseen_lines(pasts: Sequence[Sequence[Block]]) -> list[str]:
    """The latest checks that no longer passed, and whether they were foreseen."""
    return [_said(block_words(b)) for b in latest_blocks(pasts)]


def trends_gallery(found: Sequence[Seen], paper: Paper = SCREEN) -> Gallery:
    """The trend of each history with the essential words, for the report of a trial."""
    shown = found[:MOST_PORTIONS]
    missing = (
        f"The first {MOST_PORTIONS} of {len(found)} histories are drawn; coatbench drift has all."
        if len(found) > MOST_PORTIONS
        else ""
    )
    drawings = [
        Drawing(
            f"{seen.history.place}{_unit(seen)}, read by {meter(seen)}: {_essence(seen)}",
            trend_plot(seen, blocks(seen.history), paper),
        )
        for seen in shown
    ]
    return Gallery(tuple(drawings), missing)


def meter(seen: Seen) -> str:
    """An instrument with its serial number."""
    return f"{seen.history.instrument} (serial {seen.history.key.serial or 'unknown'})"


def _essence(seen: Seen) -> str:
    """A warning, or how it drifts, or that nothing can be said of that yet."""
    told = early(seen)
    if told is not None:
        return f"{state(seen)}; {told.text}"
    if isinstance(seen.outlook.line, Lack):
        current = seen.outlook.current
        count = 0 if current is None else len(current)
        return f"{counted(count, 'check')} since the meter was last changed, too few for a trend"
    return f"{state(seen)}; {trend(seen)}"


def _block(name: str, seen: Seen, past: Sequence[Block], count: int) -> HistoryBlock:
    axis = _unit(seen)
    drawings = [Drawing(f"Trend: deviation from the certificate{axis}", trend_plot(seen, past))]
    for title, svg in control_plots(seen):
        of = ", in scatters" if "CUSUM" in title else axis
        drawings.append(Drawing(f"{title}{of}", svg))
    rows = [
        ("Last check", last(seen)),
        ("Trend", trend(seen)),
        *(("Limit", text) for text in ahead(seen)),
        *(("Since", text) for text in cuts(seen)),
        *(("Past", _said(block_words(b))) for b in past),
    ]
    return HistoryBlock(
        name,
        f"{seen.history.place}, read by {meter(seen)}",
        state(seen),
        count <= OPEN_AT_MOST or (early(seen) is not None and count <= 4 * OPEN_AT_MOST),
        tuple(rows),
        tuple((w.what, w.next_step) for w in seen.warnings),
        Gallery(tuple(drawings), ""),
        tuple(adjustments(seen)),
    )


def _said(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _unit(seen: Seen) -> str:
    unit = symbol(seen.history.key.unit)
    return f", {unit}" if unit else ""


def _left(seen: Seen) -> str:
    from_now = seen.outlook.days_left
    return "–" if from_now is None else f"{from_now:.0f} days"
