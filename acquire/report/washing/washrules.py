"""How a wash life was decided, and how sure it is, in sentences. Pure; any thread."""

from __future__ import annotations

from acquire.analysis.durability.course import Distance
from acquire.analysis.durability.criterion import criterion_words
from acquire.analysis.durability.unsteady import Unsteady
from acquire.analysis.durability.washresult import MOST_COMPARED, WashResult
from acquire.analysis.figures import rounded, suffix
from acquire.model import EndOfLife
from acquire.report.washing.washwords import crossing_of_zone
from acquire.report.words.wording import listed

_OF_ONE_ZONE = (
    "A zone is judged by the scatter of its own readings and of those of the control's zones: "
    "“surely” says what these zones read at that count. That a zone reads otherwise from stage to "
    "stage by more than its readings scatter (it was washed less evenly, the meter was set down "
    "elsewhere) is not in it. Of drawn lives of zones that did so by 2 % of the first gain about 2 "
    "in 100 were false, by 5 % about 15, by 8 % about 25; of two treatments alike with one zone "
    "each, one was said to outlive the other in 4 of 100 by 5 %, in 15 by 8 %. More readings of a "
    "zone do not help there; two or more zones of the control do, since they show how far zones "
    "read otherwise."
)
"""Courses of half-lives from 3 to 30 washes, looks at 0, 5, 10 and 20, five readings each; levels
of treated and control zones off alike: 360 lives a figure, 150 pairs."""

_KEPT_OF_ONE_ZONE = (
    "With one zone of treatment or control what is kept goes by the scatter of the readings, too, "
    "and holds for what these zones read: that a zone reads otherwise from stage to stage is not "
    "in it. Of drawn intervals of zones that did so by 2 % of the first gain about 27 in 100 "
    "missed what was truly kept, by 5 % about 60, by 8 % about 73. With several zones of the "
    "control 5 in 100 at most miss."
)
"""Drawn as for lives, at 5, 10 and 20 washes: 750 intervals a figure; 180 each of two and three
zones."""

_OF_LINES = (
    "Where a straight line between two counts meets the criterion is told beside a life and "
    "decides nothing. What the readings leave is of that line: exponential courses, which bend, "
    "met the criterion outside of it in 13 of 100 drawn lives{more}."
)
_OF_LINES_UNTOLD = (
    ", and in 24, 60 and 75 of 100 where zones read otherwise from stage to stage by 2, 5 and 8 % "
    "of the first gain"
)
"""Drawn as for lives: 116 to 138 crossings a figure."""

_HALF_OF_ONE_ZONE = (
    " Where zones read otherwise from stage to stage by 2 to 8 % of the first gain, 7 to 9 in 100 "
    "of such intervals, drawn over five and eight counts, missed the half-life, and of bounds by "
    "single counts 6 in 100 by 5 %, 13 by 8 %."
)
"""150 to 180 intervals a figure, of half-lives as for lives, and 65 and 87 bounds."""

_BY_COUNTS = (
    "Where no half-life of the gain is resolved, what is said of it goes by no course: more than "
    "half of the gain was surely left at one count and at all before it, less than half at another "
    "and at all behind it, by the intervals of the shares kept. Past the last count nobody has "
    "seen how long it lasts."
)

_HARDLY = 1.5
"""Times its reach: smaller first gains are shown by fewer than about 80 of 100 trials."""
_OF_SMALL_GAINS = (
    "Shares are told only where the first gain is shown, which picks gains that came out high. "
    "That of {names} is less than 1.5 times its uncertainty: of gains so small that 20 in 100 "
    "drawn trials showed them, up to 9 in 100 intervals of what was kept missed it."
)
"""One zone a side, five readings each: 8 in 100 of 468 intervals over five counts, 9 of 158 over
three. Of gains that 72 of 100 trials show 2 miss, of several zones 2 at most."""

_OF_TRENDS = (
    "Whether a gain falls is asked only where the first one is shown, which by itself picks first "
    "gains that came out high; so the chance of a trend is that among the orders of the gains that "
    "begin with one that would have been shown. A trend takes the gains at the counts to scatter "
    "independently. Where a gain wanders from count to count by as much as it scatters, a fall "
    "that is none is shown in 9 of 100 of five counts and in 15 of eight; where it wanders and "
    "hardly scatters, in 16 and 24."
)


def wash_rules(found: WashResult, end: EndOfLife | None) -> tuple[str, ...]:
    """The criterion first, then what the intervals hold for; `end` is None without a criterion."""
    said = []
    unit = found.result.unit
    if end is not None:
        said.append(
            criterion_words(end, unit, has_control=found.has_control, is_film=found.is_film)
        )
    if not found.has_control:
        said.append("The control was not read, so changes of the zones stand by themselves: what "
                    "the panel and the meter did meanwhile is in them.")  # fmt: skip
    held = 100 * (1 - found.alpha)
    many = found.together
    together = (
        f"Intervals are held at {held:.4g} % each, so that those of all {many} treatments at one "
        "count hold together at 95 %."
        if many > 1
        else "Intervals are held at 95 %."
    )
    of_one = any(k.is_of_one_zone for t in found.treatments for _, k in t.wear.kept)
    if of_one and found.unsteady is None:
        # The terminal has no more rules than these: it must not say less than it knows.
        together += (
            " They go by the scatter of the readings alone, since no treatment has zones enough to "
            "show how far a zone reads otherwise from stage to stage: they hold for what was read."
        )
    said.append(together)
    said.append(
        "What is kept is the gain at a count over the gain at "
        f"{found.washing.start}. The bare readings, the control and the first gain stand above and "
        "below the line; its interval holds every share that the readings do not contradict, each "
        "by a budget of its own (Fieller), so that what both sides have in common counts once."
    )
    small = [t.shown for t in found.treatments if t.wear.is_kept and _is_hardly_shown(t.wear.gain)]
    if small:
        said.append(_OF_SMALL_GAINS.format(names=listed(small)))
    if of_one and found.unsteady is None:
        said.append(_KEPT_OF_ONE_ZONE)
    if end is not None:
        said.append(
            "A look passes or fails only where it lies on one side of the criterion beyond its "
            "uncertainty; a life goes from the last count that surely passed to the first that "
            "surely failed, and “at least” means that washing, or what can be seen, stopped first."
        )
        if found.unsteady is None:
            said.append(_OF_ONE_ZONE)
        if any(crossing_of_zone(z) for t in found.treatments for z in t.zones):
            more = _OF_LINES_UNTOLD if found.unsteady is None else ""
            said.append(_OF_LINES.format(more=more))
    if found.unsteady is not None and (end is not None or of_one):
        said.append(_of_unsteady(found.unsteady, found))
    said.append("Trends and half-lives are judged each for itself, at 95 %.")
    if any(t.wear.trend is not None and t.wear.trend.can_show for t in found.treatments):
        said.append(_OF_TRENDS)
    fitted = [t.wear for t in found.treatments if t.wear.fit is not None]
    fits = [w.fit for w in fitted if w.fit is not None]
    if any(f.beside_plateau or not f.is_resolved for f in fits):
        said.append(_BY_COUNTS)
    if any(w.is_of_zones for w in fitted):
        said.append(
            "The half-life of a treatment with several zones, beside several of the control, is "
            "that of the best course, while its interval is made of what the zones kept and of how "
            "they differ, since a few zones hardly tell one course from another. It holds for "
            "every course that falls ever more slowly or evenly: half is gone where the straight "
            "line between two counts is surely below one half, and not yet where that of the two "
            "before, carried on, is surely above. Where a fall had not surely begun, or the means "
            "bend the other way, the counts themselves are the limits, so that a coat that went at "
            "once is in it, too. A course that a share kept rules out has no half-life."
        )
    if any(not w.is_of_zones for w in fitted):
        said.append(
            "With one zone of treatment or control a half-life goes by the scatter of the readings "
            "and what is known of the meter, or by how far the levels lie off the course, "
            "whichever says less. How zones of one treatment differ in wearing is not in it, so it "
            "holds for the zones that were read and not for others of the same treatment. It takes "
            "the course that is named for granted: 98 of 100 drawn half-lives of the gain held for "
            "plateaus, lines, sudden ends and two paces taken for exponential, too, and 2 of 11 of "
            "what goes before a plateau where there were two paces and no plateau."
            + ("" if found.unsteady is not None else _HALF_OF_ONE_ZONE)
        )
    if found.compared is not None:
        said.append(
            "Of two treatments with one zone each, one outlived the other only if it surely passed "
            "at a count by which the other had surely failed; lives that overlap tell nothing."
        )
        if found.compared.overall.chance is not None:
            said.append(
                "Treatments with several zones are compared by the lives of all of them. "
                f"{found.compared.overall.rule} Pairs are adjusted for one another (Holm)."
            )
    elif sum(t.life is not None for t in found.treatments) > MOST_COMPARED:
        said.append(f"More than {MOST_COMPARED} treatments have a life: pairs are not compared.")
    for stage in found.washing.uncounted:
        said.append(f"Stage {stage} has no count of washes in the plan and is on no curve.")
    return tuple(said)


def _of_unsteady(unsteady: Unsteady, found: WashResult) -> str:
    """By what a single zone is judged where others show how unsteady zones are."""
    figure = rounded(unsteady.sd, unsteady.sd) + suffix(found.result.unit)
    size = f"{'' if found.is_film else f'by {figure}, '}{unsteady.nu} degrees of freedom"
    whose = (
        f"zones of the control read otherwise from stage to stage ({size})"
        if unsteady.is_of_control
        else f"zones of one treatment read otherwise from stage to stage ({size}; that they wear "
        "each at its own pace is in it, on the safe side)"
    )
    return (
        "What is said of one zone, its life, what it kept, goes by the scatter of its readings or "
        f"by how far {whose}, whichever says less. What befell all zones of a stage alike is in "
        "neither. Of drawn lives 1 in 100 at most was "
        "false, of shares kept 2, where zones did so by up to 8 % of the first gain; where treated "
        "zones did so twice as much as those that tell it, 3 lives and 17 shares."
    )


def _is_hardly_shown(gain: Distance) -> bool:
    return gain.estimate is not None and gain.estimate < _HARDLY * (gain.reach or 0.0)
