"""What a study says, in lines for a person. Pure; any thread."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.analysis.figures import beyond, probability, rounded, suffix
from acquire.analysis.laws.student import two_sided_p
from acquire.analysis.plans.planning import readings_for
from acquire.analysis.specimens.scatter import Pooled
from acquire.analysis.studies.consistency import h_critical
from acquire.analysis.studies.homogeneity import OUTLIER
from acquire.analysis.studies.precision import LIMIT_FACTOR, limit
from acquire.analysis.studies.study import LEAST_NU, Study
from acquire.analysis.studies.warmup import WarmUp
from acquire.model import StudyKind, at_channel
from acquire.study.found import Finding, FoundStudy
from acquire.study.lending import Candidates, Key, in_use

if TYPE_CHECKING:
    from acquire.analysis.studies.roundedscatter import RoundedScatter

DIFFERENCES = (2.0, 1.0, 0.5)
"""In repeatability limits: the differences that are planned for where none was asked for."""
_LEAST_SAID = 0.005
"""Of a chance: below it is none of 100."""
ENOUGH_PEOPLE = 4
"""Where people differ much, the upper 95 % limit of s_R is 32 times s_R with two people, 6 times
with three and below 4 times with four (root of nu over chi-squared)."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """`is_usable` says whether the study gave a figure for every instrument and channel."""

    lines: tuple[str, ...]
    is_usable: bool


def verdict_of(study: FoundStudy, lists: Candidates, wanted: float | None = None) -> Verdict:
    """The verdict of a study; `lists` are the figures of all studies, `wanted` a difference."""
    lines = [f"{study.name}: {study.plan.title}, on {study.plan.panel}"]
    lines += [f"  NOTE  {text}" for text in _notes(study)]
    usable = bool(study.findings)
    for finding in study.findings:
        head = f"{finding.instrument}, serial {finding.serial}"
        lines.append(f"{head}, {study.quantity.value}{at_channel(finding.channel)}")
        if finding.warm_up is not None:
            lines += _warm_up_lines(finding.warm_up, finding)
            usable &= finding.warm_up.is_reached and not finding.trouble
        elif finding.study is not None:
            lines += _study_lines(finding.study, finding, wanted)
            lines.append(f"  {_standing(study, finding, lists)}")
            usable &= finding.study.usable is not None
    if not study.findings:
        lines.append("  no reading of it counts, so it says nothing")
    lines.append(f"next: {next_step(study, is_usable=usable)}")
    return Verdict(tuple(lines), usable and not study.is_open)


def next_step(study: FoundStudy, *, is_usable: bool) -> str:
    if study.is_open or study.open_places:
        return f"coatbench study --resume goes on with {study.name}"
    if study.kind is StudyKind.WARM_UP:
        if is_usable:
            return f"coatbench check {study.instrument}, now that it is warm"
        return (
            f"coatbench study {study.instrument} --warm-up with more readings (--readings), from "
            "cold"
        )
    if is_usable and study.is_closed:
        return "coatbench trial new, which plans by what the readings scatter"
    if is_usable:
        return (
            f"coatbench check {study.instrument} (the closing check: if it fails, the study "
            "counts for nothing)"
        )
    return f"coatbench study {study.instrument} with more readings (--readings)"


def _notes(study: FoundStudy) -> Iterator[str]:
    if study.kind is StudyKind.WARM_UP:
        yield (
            "a warm-up study is read without a check, and its readings count for no result of any "
            "trial"
        )
    if study.open_places:
        yield (
            f"{_counted(study.open_places, 'place has', 'places have')} no reading that counts yet"
        )
    if study.void:
        yield f"{_counted(study.void, 'reading is', 'readings are')} void and left out"
    if study.suspect:
        yield (
            f"{_counted(study.suspect, 'reading is', 'readings are')} suspect (by a later check, "
            "a re-adjustment with no check as found, or a certificate that was withdrawn) and left "
            "out"
        )


def _standing(study: FoundStudy, finding: Finding, lists: Candidates) -> str:
    """Whether the figure is in use, and if not why."""
    now = in_use(lists, Key(finding.serial, study.quantity, finding.channel))
    if now is not None and now.study.id == study.id:
        return (
            f"IN USE: {now.repeatability.said(finding.unit)}: for uncertainty, beside the readings "
            "of each zone, for outlier flags and for planning"
        )
    if study.is_open:
        return "NOT IN USE YET: the study is still under way"
    if finding.study is None or finding.study.usable is None:
        nu = finding.study.repeatability.nu if finding.study and finding.study.repeatability else 0
        return (
            f"NOT IN USE: {nu:g} degrees of freedom, wanted {LEAST_NU} or more and a scatter or a "
            "display step above zero"
        )
    assert now is not None
    return f"NOT IN USE: {now.study.name} is later"


def _study_lines(study: Study, finding: Finding, wanted: float | None) -> Iterator[str]:
    sign, found = suffix(finding.unit), study.repeatability
    rounded_to = study.rounded()
    count = sum(len(c.values) for c in study.cells)
    yield (
        f"  {count} readings of {_counted(len(study.spots), 'spot', 'spots')} by "
        f"{_counted(len(study.people), 'person', 'people')}"
    )
    if found is None:
        yield "  s_r     not known: no spot was read twice by one person"
        return
    if study.hidden:
        yield (
            f"  s_r     below what the display shows: all repeated readings agree"
            f"{_step(finding, sign)}"
        )
    else:
        yield scatter_line(found, rounded_to, sign)
        yield limit_line(study, rounded_to, sign)
    yield from people_lines(study, sign)
    yield from _level_lines(study, sign)
    yield from flag_lines(study, sign)
    if study.usable is not None:
        yield from _planning_lines(study, study.usable.sd, sign, wanted)


def scatter_line(found: Pooled, rounded_to: RoundedScatter | None, sign: str) -> str:
    """s_r with its limits; of readings that the display rounds, those of what is behind them."""
    low, high = found.interval() if rounded_to is None else (rounded_to.low, rounded_to.high)
    limits = f"95 %: {_fig(low, '')} to {_fig(high, sign)})"
    head = f"  s_r     {_fig(found.sd, sign)} (repeatability, {found.nu:g} degrees of freedom"
    if rounded_to is None:
        return f"{head}, {limits}"
    return (
        f"{head}, as displayed, so that rounding to steps of {rounded_to.step:g}{sign} is in it; "
        f"without that about {_fig(rounded_to.sd, sign)}, {limits}"
    )


def limit_line(study: Study, rounded_to: RoundedScatter | None, sign: str) -> str:
    """The repeatability limit, by the larger scatter where that depends on the level.

    Its level is that of Student's law, since the scatter is itself known by a study only; of
    readings that the display rounds, which differ by whole steps, what these come to.
    """
    found = study.repeatability
    assert found is not None
    larger = study.usable if study.dependence is not None and study.dependence.is_shown else None
    sd, nu = (found.sd, found.nu) if larger is None else (larger.sd, larger.nu)
    if rounded_to is None:
        return (
            f"  r       {_fig(limit(sd), sign)}: two single readings of one spot differ by more "
            f"than this in about {_of_100(nu)} of 100 cases only, so a smaller difference shows "
            "nothing"
        )
    most = max(limit(sd), rounded_to.step)
    is_step = most > limit(sd)
    steps, chance = rounded_to.times(sd / found.sd).beyond(most)
    less = " (one step of the display: 2.8 s_r is less than any difference shown)"
    return (
        f"  r       {_fig(most, sign)}{less if is_step else ''}: two single readings of one spot "
        f"differ by more than this, which is {steps} steps or more, in "
        f"{f'about {100 * chance:.0f}' if chance >= _LEAST_SAID else 'fewer than 1'} of 100 cases "
        f"only, so {'that' if is_step else 'a smaller'} difference shows nothing"
    )


def _of_100(nu: float) -> str:
    """How often two readings differ by more than the limit of a scatter with such freedom."""
    return f"{100 * two_sided_p(LIMIT_FACTOR / math.sqrt(2), nu):.0f}"


def people_lines(study: Study, sign: str) -> Iterator[str]:
    """How people of a study differ, in lines; none where one person read it."""
    found = study.reproducibility
    if found is None or study.between is None:
        return
    yield f"  s_L     {_fig(study.between, sign)} (between people)"
    yield (
        f"  s_R     {_fig(found.sd, sign)} (reproducibility; {len(study.people)} people give "
        f"{found.nu:g} degree{'s' if found.nu > 1 else ''} of freedom; 95 %: "
        f"{_fig(found.low, '')} to {_fig(found.high, sign)})"
    )
    if found.sd > 0:
        yield (
            f"  R       {_fig(limit(found.sd), sign)}: two single readings of one spot by two "
            f"other people differ by more than this in about {_of_100(found.own_nu)} of 100 cases"
        )
    if len(study.people) < ENOUGH_PEOPLE:
        yield (
            f"  {'two' if len(study.people) == 2 else 'three'} people say little of how people "
            "differ: see how wide the limits of s_R are"
        )
    # A void makes a study uneven, which the analysis of all readings does not take.
    whole = study.gauge.p_people if study.gauge is not None else None
    p = study.p_means if whole is None else whole
    if p is None:
        yield (
            "  whether people differ on the whole cannot be told: it takes two spots or more that "
            "everybody read, and some scatter between them"
        )
        return
    by = "" if whole is not None else ", by the means of each spot, since not all were read alike"
    differ = p <= 0.05
    yield (
        f"  people {'DIFFER' if differ else 'are not shown to differ'} on the whole "
        f"(p {probability(p)}{by})"
        f"{'; let one person take all readings of a trial' if differ else ''}"
    )


def _level_lines(study: Study, sign: str) -> Iterator[str]:
    found = study.dependence
    if found is None:
        return
    if not found.is_shown:
        yield f"  the scatter is not shown to depend on the level (p {probability(found.p)})"
        return
    yield (
        f"  the scatter DEPENDS on the level (p {probability(found.p)}): "
        f"{_fig(found.sd_low, sign)} near {rounded(found.low, found.sd_low)}{sign}, "
        f"{_fig(found.sd_high, sign)} near {rounded(found.high, found.sd_high)}{sign}; the larger "
        "is used"
    )


def flag_lines(study: Study, sign: str) -> Iterator[str]:
    """What stands out from the rest of a study, in lines."""
    if study.odd_cell is not None:
        cell, test = study.odd_cell
        word, at = (
            ("stands out", "limit")
            if test.is_outlier
            else ("straggles", "beyond the limit at 5 % and within that of")
        )
        share, critical = beyond(test.share, test.critical, 3)
        yield (
            f"  FLAG    the scatter of {cell.spot} by {cell.person} {word} (Cochran "
            f"C = {share}, {at} {critical} at 1 %). It is counted"
        )
    for person, h in zip(study.people, study.h or (), strict=bool(study.h)):
        if abs(h) > (limit_of_h := h_critical(len(study.people), OUTLIER)):
            yield (
                f"  FLAG    {person} reads off the others on the whole (Mandel h = {h:.2f}, limit "
                f"{limit_of_h:.2f} at 1 %). It is counted"
            )
    for odd in study.odd_values:
        what = (
            f"the mean of {odd.cell.spot} by {odd.cell.person}"
            if odd.reading is None
            else f"reading {odd.reading} ({odd.value:g}{sign}, {odd.cell.spot}, {odd.cell.person})"
        )
        found, most = beyond(odd.test.statistic, odd.test.critical)
        yield (
            f"  FLAG    {what} stands out (Grubbs G = {found}, limit "
            f"{most} at 1 %). It is counted; void it with a reason if it was a "
            "bad one"
        )


def _planning_lines(study: Study, sd: float, sign: str, wanted: float | None) -> Iterator[str]:
    high, nu = sd, None if study.usable is None else study.usable.nu
    if study.repeatability is not None and not study.hidden:
        rounded_to = study.rounded()
        of_readings = study.repeatability.interval()[1]
        high = max(sd, of_readings if rounded_to is None else rounded_to.high)
    differences = [wanted] if wanted is not None else [k * sd for k in DIFFERENCES]
    for difference in differences:
        yield f"  {need_words(sd, high, difference, sign, nu)}"


def need_words(sd: float, high: float, difference: float, sign: str, nu: float | None) -> str:
    """How many readings show a net change; `high` is the upper limit, `nu` where it is lent."""
    need, most = (readings_for(s, difference, nu=nu) for s in (sd, high))
    what = f"a net change of {_fig(difference, sign)}"
    if need is None:
        return f"to show {what} no number of readings up to 1000 a zone and stage is enough"
    at_most = "" if most == need else f", {most or 'over 1000'} at the upper limit of s_r"
    return (
        f"to show {what} in 8 of 10 trials take {need} readings a zone and stage{at_most} (one "
        "product and its control, without drift; several at once take more, which coatbench trial "
        "check says of a plan)"
    )


def _warm_up_lines(warm: WarmUp, finding: Finding) -> Iterator[str]:
    sign = suffix(finding.unit)
    yield (
        f"  {warm.readings} readings from {_minutes(warm.first_s)} to {_minutes(warm.last_s)} "
        "after switch-on"
    )
    if finding.trouble:
        yield f"  NOT VALID: {finding.trouble}"
    if warm.curve is not None:
        yield from drift_lines(warm, sign)
    elif warm.lacking:
        yield f"  nothing can be told: {warm.lacking}"
    else:
        unseen = warm.unseen * max(warm.sd, finding.resolution)
        yield (
            f"  no drift is shown beyond the scatter of {_fig(warm.sd, sign)}: if the meter was "
            "cold at the first reading, there is none to wait for, or one of less than about "
            f"{_fig(unseen, sign)}; so many readings show a larger one in more than 85 of 100 "
            "studies"
        )


def drift_lines(warm: WarmUp, sign: str) -> Iterator[str]:
    """A drift that is shown: when it ends, by which course, and what that does not tell."""
    assert warm.curve is not None
    yield (
        f"  drift of {_fig(warm.curve.ahead(warm.first_s), sign)} from the first reading on, "
        f"time constant {_minutes(warm.curve.constant_s)}, scatter {_fig(warm.sd, sign)}"
    )
    if warm.lacking:
        yield f"  NOT REACHED: {warm.lacking}"
    elif warm.has_second:
        yield (
            "  NOT TOLD: the drift is not one exponential approach to a level (p "
            f"{probability(warm.p_second or 0.0)} that scatter makes two of them so much better), "
            "and by a second, slower part it goes on for longer than the first tells. Take more "
            "readings, the first of them later: once the quick part is over, one is left"
        )
    elif warm.warm_up_s is None:
        yield (
            f"  NOT REACHED: after {_minutes(warm.last_s)} the drift was not yet over, or too "
            "few readings show that it was"
        )
    else:
        yield (
            f"  WARM after {_minutes(warm.ready_s or 0.0)}: what is left of the drift is a "
            "third of the scatter or less, and by 95 % not more than half of it. Put "
            f"warm_up_s = {warm.warm_up_s} into the check policy"
        )
        yield f"  {_course_words(warm, sign)}"


def _course_words(warm: WarmUp, sign: str) -> str:
    """What the time rests on, and what it would not have seen."""
    tested = (
        "the steps of the display hide whether it is one"
        if warm.p_second is None
        else f"a second one is not shown in it, p {probability(warm.p_second)}"
    )
    rest = (
        ""
        if warm.rest is None
        else (
            ". By the readings from then on alone, the level may still have moved by "
            f"{_fig(warm.rest, sign)} until the last of them (95 %)"
        )
    )
    return (
        f"this takes the drift for one exponential approach to a level ({tested}); a slow part of "
        f"few scatters beside a quick one is mostly not seen, and goes on for longer{rest}"
    )


def _counted(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _fig(value: float, sign: str) -> str:
    return f"{rounded(value, value)}{sign}" if value else f"0{sign}"


def _minutes(seconds: float) -> str:
    if seconds < 90:
        return f"{math.floor(seconds + 0.5)} s"
    return f"{seconds / 60:.0f} min"


def _step(finding: Finding, sign: str) -> str:
    if finding.resolution <= 0:
        return ""
    return f" to its step of {finding.resolution:g}{sign}, which stands for it"
