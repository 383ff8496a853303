"""The page's section on wash life: the answer, a table of shares, lives of zones, and drawings.

Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.durability.ending import ZoneLife
from acquire.analysis.durability.washresult import TreatmentLife
from acquire.analysis.figures import signed
from acquire.report.evidence.othercount import behind, counted_mark
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.retention import retention_heights, retention_plot
from acquire.report.sections.gallery import MOST_PORTIONS, Drawing, Gallery
from acquire.report.washing.washlife import WashAnswer
from acquire.report.washing.washwords import crossing_of_zone, kept_figures, life_words, percent
from acquire.report.washing.wearwords import gain_figures
from acquire.report.words.tabled import MARK
from acquire.report.words.wording import listed

NONE = "–"


class KeptRow(NamedTuple):
    """One treatment: its first gain, and a share with its interval at each count."""

    name: str
    gain: str
    gain_reach: str
    shares: tuple[str, ...]


class ZoneRow(NamedTuple):
    """One zone: what each look showed, its life, and where its line meets the criterion."""

    zone: str
    name: str
    looks: tuple[str, ...]
    life: str
    crossing: str


class WashPart(NamedTuple):
    """All that the page shows of one measure and channel. `zones` is empty without a criterion."""

    answer: WashAnswer
    counts: tuple[str, ...]
    looks: tuple[str, ...]
    kept: tuple[KeptRow, ...]
    zones: tuple[ZoneRow, ...]
    drawings: Gallery
    has_criterion: bool


def wash_part(answer: WashAnswer, has_criterion: bool, paper: Paper = SCREEN) -> WashPart:
    """Tables and drawings of one answer."""
    found = answer.found
    return WashPart(
        answer,
        tuple(f"after {x.washes}" for x in found.washing.washed),
        tuple(str(x.washes) for x in found.washing.looks),
        tuple(_kept_row(answer, i) for i in range(len(found.treatments))),
        tuple(
            ZoneRow(
                z.zone,
                t.name,
                _looks(z),
                _life(z, answer) + (f" {MARK}" if _late(answer, t) else ""),
                _crossing(z),
            )
            for t in found.treatments
            for z in t.zones
        ),
        _gallery(answer, paper),
        has_criterion,
    )


def _kept_row(answer: WashAnswer, place: int) -> KeptRow:
    t = answer.found.treatments[place]
    gain, end = t.wear.gain, answer.found.criterion
    criterion = end.share if end is not None else 0.0
    shares = {look.stage: k for look, k in t.wear.kept}
    figure, half = NONE if gain.estimate is None else signed(gain.estimate, gain.reach), NONE
    if gain.estimate is not None and gain.reach:
        figure, half = gain_figures(answer.found, gain.estimate, gain.reach)
    return KeptRow(
        t.name,
        figure,
        half,
        tuple(
            _share(k.share, k.low, k.high, criterion)
            + (f" {MARK}" if (t.treatment, x.stage) in answer.late else "")
            + behind(answer.counted_at(t, [x.washes]))
            if (k := shares.get(x.stage)) is not None
            else NONE
            for x in answer.found.washing.washed
        ),
    )


def _share(share: float | None, low: float | None, high: float | None, criterion: float) -> str:
    if share is None:
        return NONE
    if low is None or high is None:
        return f"{percent(share)} %"
    middle, first, last = kept_figures(share, low, high, criterion)
    return f"{middle} % ({first} to {last} %)"


def _looks(z: ZoneLife) -> tuple[str, ...]:
    """What each look showed; nothing where there was no gain of which a share could be lost."""
    return tuple(NONE if z.has_no_gain or z.is_unshown else str(x.verdict) for x in z.looks)


def _life(z: ZoneLife, answer: WashAnswer) -> str:
    if z.life is None:
        return f"not told: {z.lacking}"
    if not z.is_told:
        return "cannot be told yet"
    ends = (z.life.low, z.life.high)
    return life_words(z.life) + behind(counted_mark(answer.others, [z.zone], ends))


def _crossing(z: ZoneLife) -> str:
    """``9.3 (8.1 to 11)``: at how many washes, and what the readings leave of that line."""
    found = crossing_of_zone(z)
    return NONE if found is None else f"{found[0]} ({found[1]})"


def _gallery(answer: WashAnswer, paper: Paper) -> Gallery:
    """A drawing for each treatment of which something is kept."""
    found = answer.found
    worn = [t for t in found.treatments if t.wear.is_kept]
    planned = [x.washes for x in found.washing.washed]
    curves = [
        (
            t.name,
            [k for _, k in t.wear.kept],
            ", ".join(filter(None, (_late(answer, t), answer.counted_at(t, planned)))),
        )
        for t in worn
    ]
    heights = retention_heights([kept for _, kept, _ in curves])
    criterion = found.criterion.share if found.criterion is not None else 0.0
    drawings = tuple(
        Drawing(name, retention_plot(kept, heights, criterion or None, f"{name}: percent of its "
                                     f"gain kept over the washes, {answer.title}", paper, late))
        for name, kept, late in curves[:MOST_PORTIONS]
    )  # fmt: skip
    rest = len(curves) - len(drawings)
    return Gallery(drawings, f"{rest} more treatments are in the table." if rest > 0 else "")


def _late(answer: WashAnswer, t: TreatmentLife) -> str:
    """At which washes a share rests on a reading that was too late; empty for none."""
    counts = [
        f"{x.washes:g}"
        for x in answer.found.washing.washed
        if (t.treatment, x.stage) in answer.late
    ]
    return f"{MARK} at {listed(counts)} washes" if counts else ""
