"""How decisions are reached, in sentences for a reader who was not there. Pure; any thread."""

from __future__ import annotations

from collections import Counter

from acquire.analysis.cells.cell import brackets_in
from acquire.analysis.meter.onepiece import is_of_one
from acquire.analysis.rules.lonezones import is_told_by_others, lone_zone_rule
from acquire.analysis.samples.outlier import FEWEST
from acquire.analysis.treatments.basis import Basis
from acquire.model import DriftCorrection

_AS_READ = (
    "What the checks found of the meter's drift between them is not taken off the readings. A "
    "difference counts as real only if it is real both with and without a steady drift of that "
    "size: the known shift is added in full to the uncertainty, beside its k-fold standard "
    "uncertainty (JCGM 100:2008, F.2.4.5). A result names this shift where it is a tenth of "
    "its ± or more: what it says is how far apart such a drift alone would have put two zones "
    "that did not differ."
)
_OF_GAIN = (
    " So it is with the meter's gain: an error in proportion to the reading does not cancel. What "
    "the checks found of it, from zero (no load, a black trap) up to the reference piece, moves a "
    "difference by that part of itself, and two zones that do not differ not at all. It is added "
    "in the same way, and how sure the certified value is counts in the same proportion."
)
_OF_RATIOS = (
    " An error in proportion to the reading, as that of the meter's gain, is the same part of a "
    "slide and of its blank under the same checks, and cancels in their ratio."
)
_OF_RATIOS_BY_OFFSET = (
    " A correction by offset takes as much off both, which leaves part of such an error in a slide "
    "darker than its blank: as far as the checks found it, or leave it open, it is added in full "
    "to the uncertainty."
)
_OF_ONE = (
    " Where checks read one piece alone, nothing tells whether what it was off by was the same at "
    "all readings or grew with them. Each figure has what this leaves in it in the one case or in "
    "the other, whichever makes its interval wider: so a correction by one piece narrows it little "
    "or not at all far from that piece. A policy with a second piece, best one at zero, tells them "
    "apart."
)
_CORRECTED = (
    "The meter's error at its checks, in a straight line from the opening to the closing check, is "
    "taken off each reading. How well both checks were read takes its place in the uncertainty, "
    "once for each check however many readings share it, and so does what a drift that did not "
    "run in a straight line may have done."
)
_IF_ALIKE = (
    ", with several zones a treatment if all treatments spread alike (if one spreads three times "
    "as much as the others, up to 19 %, and up to 22 % where it has fewer zones than they, but two)"
)
_IF_PAIRS_ALIKE = (
    ", with several zones a treatment if all treatments spread alike (if one spreads three times "
    "as much as the others, up to 12 %, and up to 22 % where it has fewer zones than they, but two)"
)
_IF_EQUALS_ALIKE = (
    "with several zones a treatment if all treatments spread alike (if the treatment or the "
    "control spreads three times as much as the others, up to 12 %, and up to 14 % where it has "
    "fewer zones than they, but two), "
)
_PAIRS = (
    "Every two treatments are held against each other, too. Which of them is best, or which two "
    "lie far apart, is seen from the same readings, so one limit holds for all pairs of the "
    "stage, whichever pair is asked about: in the limit above z and t are those of the "
    "studentized range over √2, for as many treatments as are judged (Tukey 1953; with scatters "
    "of their own as by Games and Howell 1976, and never narrower: t of a line of few readings is "
    "no less than Student's for all treatments but one together); of two treatments alone it is"
    " the limit of one difference (Welch 1947, and never narrower). The chance of even one false "
    "difference among all pairs is at most 5 %{alike}, beside the 5 % of the comparisons with "
    "the control. Whether treatments scatter alike is not tested first: to choose the rule by such "
    "a test spoils its error rate (Zimmerman 2004)."
)
_SEEN_BY_ESTIMATE = (
    "From few zones or readings that is not sure itself: of differences just as large as each of "
    "many runs names for its own, 63 in 100 are shown by a spread with 2 degrees of freedom, 69 "
    "with 4, 74 with 10 and 78 with 30 (noncentral t law)."
)
_PLACES = (
    "A treatment's place runs from one more than are shown to be ahead of it to the last that "
    "those leave which it is shown to be ahead of; with the limit of all pairs such places hold "
    "together at 95 % (Al Mohamad, Goeman and van Zwet 2022). Treatments that nothing is shown to"
    " be ahead of are first together. The chance to be first decides nothing: it says how likely "
    "each treatment is truly the best, given these readings. The scatter of each treatment is "
    "drawn by Student's t (JCGM 101:2008, 6.4.9), what treatments share once for all of them; of "
    "two treatments it is Student's t of their difference."
)


def _of_blocks(basis: Basis) -> list[str]:
    """That the layout has complete blocks, and what that does to a difference."""
    if not basis.blocks or basis.blanks is not None:
        return []
    number = len(set(basis.blocks.values()))
    return [
        f"The layout dealt the treatments into {number} complete blocks, so two treatments are "
        "compared within them: the difference of their changes is taken in each block, and the "
        "uncertainty comes from how such differences spread. From three treatments with one zone a "
        "block on, all of them tell that together (the residual of the analysis of variance by "
        "treatment and block, without interaction), or the differences of the two, where these "
        "spread more; of two treatments alone they are paired. What sets one block apart from "
        "another is then in no difference. The layout settled this, and no reading. "
        "Where blocks hold several zones of a treatment and are fewer than five, or where one was "
        "not read, the spread of all zones stands, and it is said."
    ]


def _of_changes(basis: Basis) -> list[str]:
    """What is compared, and by what it is known; slides against blanks have rules of their own."""
    if basis.blanks is not None:
        return []
    return [
        "Each treatment is judged by its net change: the change of its zones from "
        f"{basis.bare} to the stage, less the change of the control zones in the same time.",
        "Where treated and control zones are two or more each, the zone is the unit that is "
        "repeated: the uncertainty of a mean change comes from the spread of the changes of its "
        "zones. From three treatments on, the control among them, all of their zones tell together "
        "how zones differ within a treatment (analysis of variance; Dunnett 1955), or the zones of "
        "the two that are compared, where these differ more; a treatment with one zone has what "
        "those of others tell with two degrees of freedom or more. Where zones tell nothing, the "
        "uncertainty comes from the scatter of the readings of each zone and stage, and the "
        f"decision is about the zones that were read.{_of_single(basis)}",
    ]


_OF_SINGLE = (
    " That a zone reads otherwise at one stage than at another by more than its readings scatter "
    "(it was cleaned less evenly, the meter was set down elsewhere) is not in it. Of drawn trials "
    "of four products that did nothing, one zone each with five readings, 11 in 100 had a false "
    "“better” or “worse” where it did so by half of the scatter of single readings, and 42 where "
    "by as much; among all pairs 15 and 50. Of treatments that differed by just the margin 9 and "
    "19 in 100 were called equal, and of chances of 97 % to be the best 88 and 78 in 100 were "
    "true. Two zones of the control beside them do not tell it yet (64 in 100 were false at 1.3 "
    "times that scatter). More readings do not help there; several zones do."
)
"""600 trials a figure."""


_BESIDE_STUDY = (
    ", as far as no study counts beside them (what that costs is said with its repeatability)"
)


def _of_single(basis: Basis) -> str:
    """What single zones cost, whether others tell for them or not; empty where there are none."""
    by_stage = _zones_compared(basis)
    said = next(filter(None, map(lone_zone_rule, by_stage)), "")
    if any(1 in counts and not is_told_by_others(counts) for counts in by_stage):
        said += _OF_SINGLE
    return said


def _zones_compared(basis: Basis) -> list[list[int]]:
    """How many zones each treatment has that were read bare and at a stage, by stage."""
    read = {(cell.treatment, cell.zone, cell.stage) for cell in basis.cells if cell.n}
    bare = {(treatment, zone) for treatment, zone, stage in read if stage == basis.bare}
    stages = sorted({stage for _, _, stage in read} - {basis.bare})
    return [
        list(Counter(t for t, zone in bare if (t, zone, stage) in read).values())
        for stage in stages
    ]


def _of_any(treatments: int) -> str:
    """What is said of an equality where it may be claimed of several."""
    if treatments < 2:
        return ""
    return f"; the chance that any of the {treatments} is falsely called equal is larger than 5 %"


def _tests_of(basis: Basis) -> str:
    """By what readings are flagged."""
    if basis.known is None:
        return "Grubbs' test (two-sided, 5 %)"
    return "Grubbs' test or by the repeatability in use (two-sided, 2.5 % each)"


def _flags_of(basis: Basis) -> str:
    """How often good readings are flagged by chance, and what no flag says."""
    if max((cell.n for cell in basis.cells), default=0) < FEWEST:
        return "No zone was read three times at a stage, and of two readings none can be flagged."
    return (
        "By chance alone at most one zone and stage in twenty has such a reading; of three or four "
        "readings, or where they scatter by less than two or three steps, hardly any has: that "
        "none is flagged does not say that all are good."
    )


def _of_scale(basis: Basis) -> str:
    """What an error does that is not the same all along the scale of the meter."""
    brackets = brackets_in(basis.cells)
    said = _OF_GAIN
    if basis.scale.is_ratio:
        by_offset = any([b.correction is DriftCorrection.OFFSET for b in brackets])
        said = _OF_RATIOS + _OF_RATIOS_BY_OFFSET * by_offset
    return said + _OF_ONE * is_of_one(brackets)


def rules_of(basis: Basis, treatments: int, *, is_corrected: bool) -> tuple[str, ...]:
    """The sentences, for a measure with so many `treatments` beside the control."""
    rules = [
        basis.scatter.rule,
        *_of_changes(basis),
        *_of_blocks(basis),
        f"The limit of a decision holds whatever the readings of each zone scatter by"
        f"{_BESIDE_STUDY if basis.known is not None else ''}. It is the "
        "widest of those that would be due if all lines of the budget but one were known exactly: "
        "U² = z²u² + (t² − z²)c², with z of the normal law and t of Student at the degrees of "
        "freedom of the line with the contribution c (after Banerjee 1960; never narrower than "
        "Welch's limit of "
        "1947, JCGM 100:2008, G.4). All treatments of one stage are compared with the control "
        "together. Where one scatter stands for all of them (zones or blocks of all treatments, "
        "the blanks where each film has one slide, read once, or a study) z and t are those of "
        "Dunnett's limit (1955, 1964), which knows what they share by the control; else each is "
        "held at 0.95^(1/m) for m treatments (Šidák 1967, with degrees of freedom of each "
        "comparison's own as by Dunnett 1980). If none of them differed, the chance of even one "
        "false “better” or “worse” at this stage, measure and channel would be at most 5 %"
        f"{_IF_ALIKE if basis.blanks is None else ''}. Over several stages and channels it is "
        "larger.",
        (_CORRECTED if is_corrected else _AS_READ) + _of_scale(basis),
        "The smallest difference a run could have seen is the true net change that it would have "
        "shown in 80 of 100 repeats, by the same limit and the same uncertainty"
        f"{'' if is_corrected else ', also against the steady drift'}, if all truly scatters as it "
        f"did in this run. {_SEEN_BY_ESTIMATE}",
        f"Readings that stand out by {_tests_of(basis)}, and lie more than two steps of the "
        "display from the nearest other one, are flagged and counted; only a person voids a "
        f"reading, with a reason. {_flags_of(basis)}",
    ]
    if treatments > 1:
        alike = _IF_PAIRS_ALIKE if basis.blanks is None else ""
        rules += [_PAIRS.format(alike=alike), _PLACES]
    if basis.margin is not None:
        rules.append(
            f"The plan counts differences inside {basis.margin_text} as equal. "
            "Equality is shown where the 90 % interval of the net change lies inside that margin "
            "(two one-sided tests at 5 %, each treatment for itself, "
            f"{_IF_EQUALS_ALIKE if basis.blanks is None else ''}by the same rule of the limit"
            f"{_of_any(treatments)}); it then goes before “better” and “worse”. That interval "
            "is narrower than the 95 % interval, which may reach beyond the margin."
        )
    return tuple(rules)
