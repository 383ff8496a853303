"""Points of a trial in sentences and tables, for page and terminal. Rounded here and only here."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.analysis.places.standing import percent
from acquire.analysis.scoring.printing import printed
from acquire.analysis.scoring.scored import NOT_SHOWN, ItemScore, ProductScore, TrialScore
from acquire.report.words.tabled import MARK, NONE, Cells, Table
from acquire.visible import shortened

_LONGEST_NAME = 60
UNCHECKED_POINTS = "unchecked: points of readings that count without a valid check"


def total_text(score: TrialScore, product: ProductScore) -> str:
    """A total as it is printed: ``31.2``, ``at least 12.0``, ``9.1 TOO LATE``; else a dash."""
    if product.total is None:
        return NONE
    least = "at least " if product.is_at_least else ""
    return f"{least}{printed(product.total, score.decimals)}{_late(product.is_late)}"


def span_text(decimals: int, of: ItemScore | ProductScore) -> str:
    """An interval of points; of what is not shown none that says that it is sure to be 0."""
    if of.low is None or of.high is None:
        return NONE
    first, last = printed(of.low, decimals), printed(of.high, decimals)
    if first != last:
        return f"{first} to {last}"
    return NOT_SHOWN if of.is_unshown else first


def points_text(score: TrialScore, item: ItemScore) -> str:
    """The points of one item, or that there are none."""
    if item.points is None:
        return "no points"
    least = "at least " if item.is_at_least else ""
    return f"{least}{printed(item.points, score.decimals)}{_late(item.is_late)}"


def _late(is_late: bool) -> str:
    return f" {MARK}" if is_late else ""


def score_lines(score: TrialScore) -> list[str]:
    """What is said above the tables."""
    lines = [
        f"Points of {score.trial} by {score.scorecard}, version {score.version}: {score.title}"
    ]
    if score.is_unchecked:
        lines.append(f"UNCHECKED: {UNCHECKED_POINTS.split(': ')[1]}")
    return [*lines, *score.notes]


def score_tables(score: TrialScore) -> tuple[Table, ...]:
    """Totals first, then each item of each product."""
    return (
        Table("Totals", tuple(total_rows(score))),
        Table("Items, before the total is rounded", tuple(item_rows(score))),
    )


def total_rows(score: TrialScore) -> Iterator[Cells]:
    """One row a product, the best first, those that lack an item behind."""
    moved = any(p.first_unshifted is not None for p in score.products)
    head = ("TREATMENT", "POINTS", "95 %", "PLACE", "FIRST", *(("UNSHIFTED",) if moved else ()))
    yield (*head, "WITHOUT")
    for p in score.products:
        yield (
            name_of(p),
            total_text(score, p),
            span_text(score.decimals, p),
            p.place or NONE,
            NONE if p.first is None else percent(p.first),
            *(
                (NONE if p.first_unshifted is None else percent(p.first_unshifted),)
                if moved
                else ()
            ),
            ", ".join(p.missing) or NONE,
        )


def item_rows(score: TrialScore) -> Iterator[Cells]:
    """One row an item and product, in the order of the scorecard."""
    yield ("ITEM", "TREATMENT", "POINTS", "95 %", "FOUND")
    for number, (item, _) in enumerate(score.items):
        for p in score.products:
            one = p.items[number]
            said = ", ".join(filter(None, (one.found, one.why)))
            yield (
                item,
                name_of(p),
                points_text(score, one),
                span_text(score.decimals, one),
                said or NONE,
            )


def in_short(score: TrialScore) -> str:
    """The first product and its total, or that there is none."""
    told = [p for p in score.products if p.total is not None]
    if not told:
        return "no points"
    best = told[0]
    without = f", without {', '.join(best.missing)}" if best.missing else ""
    return f"{name_of(best)} {total_text(score, best)} points{without}"


def name_of(product: ProductScore) -> str:
    """A name of a bearable length."""
    return shortened(product.name, _LONGEST_NAME)
