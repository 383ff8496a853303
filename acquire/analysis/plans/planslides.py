"""How many coated slides and blanks of a box a film is held against: what few of them cost.

Where nothing is read bare each side has the spread of its own slides, with one degree of freedom
less than slides (`acquire.analysis.specimens.slidespread`). Two slides have one, and by one hardly
anything is ever shown; a third slide costs little. A coated slide that stands alone has the blanks'
spread, which looks better than two and says nothing of how the film varies. Where that is so of all
films and each slide is read once, one scatter stands for all of them and the limit is Dunnett's
(`acquire.analysis.treatments.family`); how several readings of a slide scatter is a line of its
own, with which the level is shared. Pure; any thread.
"""

from __future__ import annotations

import math

from acquire.analysis.budget.reach import reach_of, shared_level
from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term
from acquire.analysis.figures import rounded
from acquire.analysis.treatments.family import rounded_down
from acquire.model import Plan, Quantity

FEW = 2
ENOUGH_SLIDES, BETTER = 3, 5


def slides_reach(coated: int, blanks: int, treatments: int, *, is_one_line: bool = False) -> float:
    """The half width of a film's interval where all slides differ alike, over what they differ by.

    Both are relative; `treatments` are compared with the blanks at once. `is_one_line` where every
    film has one slide, read once, so that the blanks' spread is all that is known of any of them.
    ValueError below one coated slide or two blanks, or for one line of several slides.
    """
    if coated < 1 or blanks < FEW:
        raise ValueError(f"a coated slide and two blanks are wanted, got {coated} and {blanks}")
    if is_one_line and coated > 1:
        raise ValueError(f"one line is of one coated slide a film, got {coated}")
    if coated == 1:
        lines = [(math.sqrt(1 / blanks + 1), blanks - 1)]
    else:
        lines = [(1 / math.sqrt(coated), coated - 1), (1 / math.sqrt(blanks), blanks - 1)]
    terms = [Term("spread", Kind.A, u, nu, 1.0, Distribution.NORMAL, "") for u, nu in lines]
    if is_one_line and treatments > 1:
        lambdas = (math.sqrt(rounded_down(1 / (blanks + 1))),) * treatments
        return reach_of(terms, lambdas=lambdas).half_width(1 - CONFIDENCE)
    return reach_of(terms).half_width(shared_level(1 - CONFIDENCE, treatments))


def slide_hints(plan: Plan) -> list[str]:
    """A line for each measure that is planned with fewer slides than would show a film."""
    treated = [t for t in plan.treatments if not t.is_control]
    on = [zone.treatment for zone in plan.zones]
    blanks = sum(on.count(t.id) for t in plan.treatments if t.is_control)
    said = []
    for m in plan.measures:
        if m.quantity is not Quantity.TRANSMITTANCE or plan.stages[0] in m.stages:
            continue
        if blanks < FEW:
            said.append(
                f"HINT: measure {m.id} holds coated slides against {blanks} blank, which does not "
                f"show by how much blanks differ, so that nothing will be decided; {FEW} at least "
                f"are wanted, better {BETTER}"
            )
            continue
        counts = [(t.name, on.count(t.id)) for t in treated]
        said += _of_coated(m.id, counts, blanks, is_read_once=m.replicates == 1)
        if blanks == FEW:
            said.append(
                f"HINT: measure {m.id} has two blanks, whose spread is hardly known: of "
                f"{ENOUGH_SLIDES} coated slides a film is known to "
                f"±{_times(ENOUGH_SLIDES, blanks, len(treated))} times what slides differ by, with "
                f"{BETTER} blanks to ±{_times(ENOUGH_SLIDES, BETTER, len(treated))}"
            )
    return said


def _of_coated(
    measure: str, counts: list[tuple[str, int]], blanks: int, *, is_read_once: bool
) -> list[str]:
    said = []
    is_one_line = is_read_once and all(n == 1 for _, n in counts)
    for count in (1, FEW):
        names = [name for name, n in counts if n == count]
        if not names:
            continue
        who = names[0] if len(names) == 1 else f"{len(names)} treatments, such as {names[0]},"
        seen = _times(count, blanks, len(counts), is_one_line=is_one_line)
        more = _times(ENOUGH_SLIDES, blanks, len(counts))
        what = (
            "one coated slide, which says nothing of how the film varies: the blanks' spread "
            "stands for it, and a film that varies more is called better or worse too often. "
            f"Where all slides differ alike it is known to ±{seen} times that"
            if count == 1
            else "two coated slides, whose spread is hardly known: a film is known to "
            f"±{seen} times what slides differ by"
        )
        said.append(
            f"HINT: measure {measure} has of {who} {what}; with {ENOUGH_SLIDES} slides to ±{more}, "
            f"with {BETTER} to ±{_times(BETTER, blanks, len(counts))}"
        )
    return said


def _times(coated: int, blanks: int, treatments: int, *, is_one_line: bool = False) -> str:
    found = slides_reach(coated, blanks, treatments, is_one_line=is_one_line)
    return rounded(found, found)
