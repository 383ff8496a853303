"""How films are judged, in sentences for a reader who was not there. Pure; any thread."""

from __future__ import annotations

from acquire.analysis.cells.cell import brackets_in
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.films.filmable import MOST_DARK_DOUBT
from acquire.analysis.meter.bentreadings import is_bend_known
from acquire.analysis.meter.straylight import STRAY_LIGHT
from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.analysis.transmission.slides import MOST_BLANK_DOUBT
from acquire.analysis.treatments.basis import Basis
from acquire.model import DriftCorrection

_BEND = (
    "A scale that is bent by b in its middle moves a film by about 4 b (t₀ − t) of itself, where "
    "its blank lets t₀ and its coated slide t of the open beam through: with a b of 0.3 %, as a "
    "filter's certificate may leave it open, a film of 62 % on a blank of 92 % by 0.26 %. It moves "
    "all films the same way and does not change their order."
)
"""For b in parts of the open beam and a bend of the form 4 p (1 − p) b at a part p of the scale."""

_STRAIGHT = (
    "These intervals take the head's scale to be straight between dark and open beam: no check "
    "around {which} read both of these and a certified filter between the two, and so nothing "
    "tells how far it is bent. "
)

_DARK = (
    "No check around {which} read the dark. Where it read another piece beside the one that stands "
    "for the head, the line through both is drawn on to it; else the head is taken to show without "
    "light nothing, or as much as that piece was off by, whichever makes an interval wider. What "
    "it shows there all the same counts over what was read: 0.1 % makes 0.7 % of a slide of 15 %, "
    "and is in no interval. A policy with a piece of the kind dark tells it."
)
_NEAR_DARK_PERCENT = 1.0
"""What is certified of a piece that stands for no light, at most."""

_BENT = (
    "How far the checks found the head's scale bent between dark and open beam is a known shift "
    "that is added in full to the uncertainty, and how sure that is, mostly by the certificate of "
    "the filter that was read between, has a line of its own. The bend is taken to be none at both "
    "ends and largest in the middle; one filter cannot show another form. Of drawn intervals of "
    "films of 30 and 10 % by a head that shows a power of 1.02 of the light (0.7 % off in the "
    "middle), a filter of 50 % read, 5 and 33 in 100 missed, and by one that is right at the "
    "filter and 0.3 % off on both sides of it 18 and 26; by a power of 1.01 5 at most. Films that "
    "let more than half through were held by all of them. "
)
"""Slides that are their own blanks, three readings of 0.05 %, a filter known to ±0.3 %: 150 drawn
trials a figure."""

_KINKED = (
    "The checks around {which} read three pieces or more, and none of them is the dark. How far a "
    "piece lies off the line through two others is a bend of the head's scale: each reading has "
    "its part of it, a known shift that is added in full to the uncertainty. Between the pieces it "
    "is taken midway between straight lines and a parabola, and half of what these differ by has a "
    "line of its own; below the lowest piece both are drawn on, so that a dark slide has much of "
    "what the pieces leave open. So a further piece above a film makes its interval wider than the "
    "line through two does, which takes the scale to be straight: beside the open beam, filters of "
    "70 and 50 % left a film of 15 % open by 14 % of itself, or not to be judged at all, that of "
    "50 % alone by 5 %, and those of 50 and 20 % by 4 %. "
)
"""Half widths, the middle of 150 drawn trials by a straight head, with readings and filters as for
`_BENT`."""

_ALONE = (
    "A film that varies from slide to slide more than blanks do is then called one too often: of "
    "drawn trials of a film that is none beside five blanks, in 21 of 100 where it varied twice as "
    "much and in 37 where three times, and of one that differed by just a margin 16 and 24 were "
    "called equal; with two slides or more, each side by its own spread, in 5 "
    "at most, but of two slides the spread is hardly known, and beside three blanks or more the "
    "interval is 3 times as wide as of three where there is one film, 5 times where there are two, "
    "7 where four and 10 where eight."
)
"""40,000 trials a figure, normal laws, one treatment."""

DEEPER = (
    "Slides of all films tell together how slides differ: as if all differed alike or, of a film "
    "so deep that this would be too little, as if the thicknesses of all films varied by the same "
    "part of themselves. Its 95 % interval has the degrees of freedom of slides of such a depth: "
    "of drawn films that varied by 5 %, one of 22 % beside three of 95 % or more was missed in 3 "
    "of 100 with two slides each and in 2 with three and with five; where the deep one alone "
    "varied by 10 %, in up to 8, by 15 %, in up to 11."
)
"""400 trials a figure, noise of 0.03 %; `tests/unit/analysis/test_deepfilms.py`."""

_DEEPER_MORE = (
    " The variance of slides is taken to be v (1 + q d²) at a depth d, the natural logarithm of "
    "what the clearest treatment lets through over what the film does, with the likeliest v and q "
    "and the degrees of freedom of that fit (Giesbrecht and Burns 1985), where it is larger than "
    "the spread of all alike and the film is more than four times as deep as the least that this "
    "shows of one difference; its limit is Dunnett's at these (Hasler and Hothorn 2008). One of "
    "8 % beside three of 67 to 90 % was missed in 2, 3 and 2 of 100 with two, three and five "
    "slides each, one of 62 % beside four of 88 to 99 % in 2, any of four of 89 to 98 % in 4, 3 "
    "and 0, any of four of 22 to 30 % in 4, 3 and 2; within blocks in 5 at most. Beside films "
    "without any depth only its own slides tell: its interval is then 6.5 times as wide with two "
    "slides as if all differed alike, 2.3 times with three and 1.5 times with five. A film of a "
    "single slide that is so deep has what others tell with two degrees of freedom or more at its "
    "depth; else it is judged as this slide alone. Slight films beside a deep one are hardly "
    "shown, as the smallest change says: of one of 95 % beside that of 22 % 32 in 100 were with "
    "two slides each. More slides help, or a trial of deep films by themselves."
)
"""400 trials a figure, normal laws, as above; how much wider, of 150."""
_TELLING, _SEVERAL = 3, 2


def film_rules(basis: Basis) -> tuple[str, ...]:
    """The sentences for a transmittance; empty for anything else."""
    if not basis.scale.is_ratio:
        return ()
    if basis.blanks is None:
        way = (
            "Each slide is its own blank: the film is what the coated slide lets through over what "
            f"the same slide let through at {basis.bare}, over the same ratio of the control's "
            "slides, which takes off what lamp, head and slides did in the meantime."
        )
    else:
        way = (
            "The control's slides are blanks of the same box: the film is the mean of the coated "
            "slides over the mean of the blanks (geometric means). A slide is the unit that is "
            "repeated, so the uncertainty comes from the spread of the slides of each side; a "
            "coated slide that stands alone takes the spread of the blanks for its own. "
            f"{_ALONE} "
            "All this holds of one box: where boxes differ by three times what slides of one box "
            "do, coated slides of a box against blanks of another were called films in about half "
            "of drawn trials without any film, against blanks of both boxes in up to 9 of 100. So "
            "of each box as many blanks are wanted as slides are coated."
        )
    return (
        f"A film's transmittance is a ratio, of {basis.scale.what}: never a difference of "
        f"percents. {way} Blocking is 1 − ratio, absorbance −log10 of it; a ratio above 1 is "
        "possible and shown as it is.",
        "Ratios are judged as differences of logarithms: uncertainties are relative, those of "
        "coated slide and blank add up in squares (JCGM 100:2008, 5.1.6), an error of the meter "
        "in percent of the open beam counts by what it is of the reading, and one in proportion "
        f"to the reading cancels{_but_by_offset(basis)}. A net change is ln of the film's "
        "transmittance; its interval from −U to +U is printed as the ratio times exp(−U) to "
        "exp(U).",
        *_bend_rules(basis),
        *((DEEPER + _DEEPER_MORE,) if _is_told_together(basis) else ()),
        "The smallest change a run could have seen is of a film that does just so little: what "
        "display, checks and a bend of the scale do is taken at that size and not at that of the "
        "film that was read, so of a dark film it can lie far below the half width of its "
        "interval. So is scatter: that of readings as of a noise that is the same at all light, or "
        "the same part of it, whichever the readings tell, and that of slides as of a film whose "
        "thickness varies by a part of itself, between what slides without a film and those of "
        "this film were found to scatter by. Of what the median of drawn runs with a film of 80 to "
        "1 % so names, a film that does just that was shown in 72 to 82 of 100, beside two slight "
        "films in 73 to 92 (one to five slides each; where no film of any size would be shown by "
        "two slides, as in a fifth of runs with one film of 20 %, the scatter of the film that was "
        "read stands, and what is named is far too large). Of two treatments alone compared within "
        "blocks it is at most what is named, and of a deep film may be several times smaller, "
        "since nothing tells apart what blocks and what thickness do.",
        f"No ratio is taken to a blank that lets less than {PERCENT * LEAST_BLANK:g} % through or "
        f"is known to worse than {PERCENT * MOST_BLANK_DOUBT:g} %. Where hardly any light comes "
        f"through the film (known to worse than {PERCENT * MOST_DARK_DOUBT:g} %, or none at all), "
        "an upper limit stands for the ratio.",
        *(
            ()
            if not any(c.name == STRAY_LIGHT for c in basis.common)
            else (
                "Light that no sample stops makes a slide read too bright, a dark one most. By the "
                "plan this head has such stray light: the readings are as the head sent them, and "
                "what they are off by is a known shift that is added in full to the uncertainty, "
                "as a drift is. How well it is known has a line of its own. In the table of all "
                "bands it is taken off the spectra.",
            )
        ),
        "The margin of the plan, where it has one, is in percent of the blank's light: m percent "
        "counts ratios from 1/(1 + m/100) to 1 + m/100 as equal.",
    )


def _but_by_offset(basis: Basis) -> str:
    by_offset = [b.correction is DriftCorrection.OFFSET for b in brackets_in(basis.cells)]
    return ", but for what a correction by offset leaves of it" if any(by_offset) else ""


def _is_told_together(basis: Basis) -> bool:
    """Whether slides of three treatments or more, the control among them, tell how they differ."""
    if basis.blanks is not None or basis.is_by_readings:
        return False
    slides: dict[str, set[str]] = {}
    for cell in basis.cells:
        if cell.n and cell.stage != basis.bare:
            slides.setdefault(cell.treatment, set()).add(cell.zone)
    return sum(len(own) >= _SEVERAL for own in slides.values()) >= _TELLING


def _bend_rules(basis: Basis) -> tuple[str, ...]:
    """What the checks tell of the scale between its ends, and of how many readings nothing."""
    told = [
        _BENT if is_bend_known(h.bracket) else _KINKED if _is_kinked(h.bracket) else _STRAIGHT
        for cell in basis.cells for h in cell.holdings for _ in range(h.readings)
    ]  # fmt: skip
    dark = _dark_rules(basis)
    if len(set(told)) == 1:
        return (told[0].format(which="these readings") + _BEND, *dark)
    said = [
        kind.replace("These intervals take", "Of some readings these intervals take").format(
            which=f"{told.count(kind)} of the {len(told)} readings"
        )
        for kind in (_BENT, _KINKED, _STRAIGHT)
        if kind in told
    ]
    # What a bend does is said once, and of those that tell none at the end.
    first, *others = said or [_STRAIGHT.format(which="these readings")]
    return (*dark, first + _BEND, *[other.rstrip() for other in others])


def _is_kinked(bracket: Bracket | None) -> bool:
    """Whether pieces that are no dark tell how far the scale is bent."""
    rise = bracket.rise if bracket is not None else None
    return rise is not None and bool(rise.kinks)


def _dark_rules(basis: Basis) -> tuple[str, ...]:
    """Of how many readings no check tells what the head shows without light."""
    read = [
        h.bracket is not None
        and h.bracket.foot is not None
        and h.bracket.foot.certified < _NEAR_DARK_PERCENT
        for cell in basis.cells for h in cell.holdings for _ in range(h.readings)
    ]  # fmt: skip
    unread = read.count(False)
    if not unread:
        return ()
    which = "these readings" if unread == len(read) else f"{unread} of the {len(read)} readings"
    return (_DARK.format(which=which),)
