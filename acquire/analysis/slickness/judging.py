"""One candidate looked at: a pull with its figures, or the reason why it is none.

Pure; any thread.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.slickness.breakaway import Peak, first_excursion, peak_of
from acquire.analysis.slickness.candidates import Candidate, lowest_n
from acquire.analysis.slickness.clipping import equal_on_top, stood_at_end, stood_on_top
from acquire.analysis.slickness.cut import Cut, Trace
from acquire.analysis.slickness.knocks import knock_at
from acquire.analysis.slickness.pull import Pull, Rejected, Steady, Why
from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.slideknocks import slide_knocks
from acquire.analysis.slickness.steady import steady_of
from acquire.analysis.slickness.struckpeak import is_struck

Floats = NDArray[np.float64]

_TRIES = 6
_MOST_KNOCKS = 60
_BEFORE_S = 0.07
_COARSE = 0.005
"""Of the peak, for what the force gains from one sample to the next: more is told."""
_RELEASE_S = 0.05
_FALLEN_S = 0.03
_FEWEST_FALLEN = 4
"""Over so long, and so many samples, the force is averaged where it must have fallen."""
_NOISES = 3.0
"""Standard deviations that the noise adds to the largest of some forces."""


def judge(trace: Trace, candidate: Candidate, dwell_from_s: float | None) -> Pull | Rejected:
    """The pull, or why it is none. `dwell_from_s` is since when the sled has not moved."""
    cut = Cut(trace, candidate)
    rules = trace.rules
    start_s = candidate.start / trace.blocks.rate_hz
    end_s = candidate.end / trace.blocks.rate_hz
    inner = cut.span
    largest = float(cut.raw[inner].max())

    def none(why: Why, because: str, *, moved: bool = False) -> Rejected:
        return Rejected(start_s, end_s, largest, why, because, moved)

    freed = cut.freed[cut.inner]
    top = float(freed.max())
    lowest = float(cut.raw[inner].min())
    long_s = float(np.count_nonzero(freed > 0.4 * top)) / trace.blocks.rate_hz
    pulled = top >= rules.least_n and long_s >= rules.least_slide_s
    if -lowest > 2 * max(largest, rules.least_n) and not pulled:
        return none(Why.KNOCK, f"It went down to {lowest:.3g} N: a knock or a push, and no pull.")
    if largest < rules.least_n:
        return none(
            Why.SMALL,
            f"Its largest force is {largest:.3g} N; a pull has {rules.least_n:.3g} N at least.",
        )
    if top < max(rules.least_n, 0.15 * largest) or long_s < rules.least_slide_s / 2:
        return none(
            Why.KNOCK, f"It reached {largest:.3g} N and was over at once: a knock, and no pull."
        )
    if candidate.cut_before:
        return none(
            Why.CUT,
            "The trace begins in the midst of it: neither its zero nor its onset was recorded.",
            moved=True,
        )
    clipped = _clipped(trace, cut, inner)
    if clipped:
        return none(
            Why.SATURATED,
            f"The gauge stood at the end of its range for {clipped} samples: the peak was higher "
            "than what it could show.",
            moved=True,
        )
    high = np.flatnonzero(freed > 0.4 * top)
    begin, stop = int(np.argmax(freed > 0.5 * top)), int(high[-1])
    tail = freed[_tail_from(freed, begin, stop, rules, trace.blocks.rate_hz) : stop + 1]
    level = float(np.median(tail))
    # What is freed of knocks does not say where within one it is.
    before = round(_BEFORE_S * trace.blocks.rate_hz)
    began = (cut.inner.start + max(0, begin - before)) * cut.size
    found = _breakaway(cut, trace, began, inner, level)
    if cut.hidden:
        return none(
            Why.KNOCK,
            f"A knock fell on its first peak, so that nobody can tell how high it was. "
            f"{cut.left_out()}",
            moved=True,
        )
    if found is None:
        released = (stop - int(np.argmax(freed))) / trace.blocks.rate_hz
        if released < rules.least_slide_s:
            return none(
                Why.SHORT,
                f"It was let go at {largest:.3g} N before the sled slid for "
                f"{rules.least_slide_s:g} s.",
            )
        left_out = f" {cut.left_out()}" if cut.knocks else ""
        return none(
            Why.HELD,
            f"The force rose to {level:.3g} N and stayed without a first peak of "
            f"{100 * rules.least_drop:g} % above it and its noise: the sled may have been held "
            "and not moved." + left_out,
        )
    peak, slide = found
    if candidate.cut_behind and slide.end_s - slide.start_s < rules.least_slide_s:
        return none(Why.CUT, "The trace ends in the midst of it.", moved=True)
    if rules.window is not None and (slide.last - slide.first + 1.5) < (
        rules.window.length_mm / rules.window.speed_mm_per_s * trace.rate_hz
    ):
        return none(
            Why.NARROW,
            f"It slid for {(slide.until - peak.place) / trace.rate_hz:.3g} s behind its first "
            f"peak, and its window ends {rules.window.end_s:.3g} s behind it: pull farther, or "
            "ask for a shorter window.",
            moved=True,
        )
    if (slide.until - peak.place) / trace.rate_hz < rules.least_slide_s or slide.samples < 3:
        return none(
            Why.SHORT,
            f"It was let go at {largest:.3g} N before the sled slid for {rules.least_slide_s:g} s.",
        )
    if slide.falls:
        return none(
            Why.SHORT,
            f"From {largest:.3g} N the force fell evenly: it was let go, and did not slide.",
        )
    return _pull(trace, candidate, cut, peak, slide, largest, dwell_from_s)


def _tail_from(freed: Floats, begin: int, stop: int, rules: Rules, rate_hz: float) -> int:
    """From where on the force is one of sliding, most likely: the last three tenths.

    A rise may be so slow that it reaches into them: of it no more than the last is taken.
    """
    start = stop - int(0.3 * (stop - begin))
    top, least = int(np.argmax(freed)), max(3, round(rules.least_slide_s * rate_hz))
    rise = freed[begin : top + 1]
    fell = float((np.maximum.accumulate(rise) - rise).max()) if rise.size else 0.0
    if top <= start or fell > 0.1 * float(freed[top]):
        return start
    return max(start, min(top, stop - least))


@dataclass(frozen=True, slots=True)
class _Slide:
    """The window from sample `first` to `last`, and `until` where the line was let go.

    `level_n` is the mean of the whole slide, whatever window is asked for, and `middle_n` its
    median, which a knock behind the first peak moves not.
    """

    first: int
    last: int
    until: int
    start_s: float
    end_s: float
    samples: int
    level_n: float
    middle_n: float
    falls: bool


def _clipped(trace: Trace, cut: Cut, inner: slice) -> int:
    """How many samples stood at the end of the range; 0 where none did."""
    whole = trace.force_n[cut.first : cut.last][inner]
    if trace.rules.range_n is not None:
        return stood_at_end(whole, trace.rules.range_n)
    return stood_on_top(whole, float(trace.force_n.max()), trace.noise_n)


def _breakaway(
    cut: Cut, trace: Trace, began: int, inner: slice, level: float
) -> tuple[Peak, _Slide] | None:
    """The first peak and the slide behind it: each is sought by the other until both stand."""
    rules = trace.rules
    found: tuple[int, int] | None = None
    slide: _Slide | None = None
    first_level = level
    window = max(_FEWEST_FALLEN, round(_FALLEN_S * trace.rate_hz))
    mean_n = trace.noise_n / window**0.5
    tries = 0
    while tries < _TRIES and len(cut.knocks) < _MOST_KNOCKS and not cut.hidden:
        part = cut.smooth[began : inner.stop]
        excursion = first_excursion(part, level, cut.noise_n, rules.least_drop, window, mean_n)
        if excursion is None:
            break
        start, end = began + excursion[0], began + excursion[1]
        top = start + int(np.argmax(cut.smooth[start : end + 1]))
        knock = cut.rest_of_knock(top) or knock_at(cut, top, end, level)
        if knock is not None:
            cut.clear(knock)
            found, slide, level, tries = None, None, first_level, 0
            continue
        tries += 1
        found = start, end
        new = _slide(cut, trace, top, inner, level)
        if new is None:
            break
        slide = new
        if abs(new.level_n - level) <= 0.002 * level:
            break
        level = new.level_n
    if found is None:
        return None
    # The largest of many forces has the noise of them, too.
    highest = float(cut.smooth[found[0] : found[1] + 1].max()) - _NOISES * cut.noise_n
    if slide is not None and highest < (1 + rules.least_drop) * slide.middle_n:
        return None
    if cut.stood(found[0], level):
        return None
    peak = peak_of(cut.raw, cut.smooth, cut.smoothed, found[0], found[1], trace.noise_n)
    if slide is None:
        slide = _Slide(peak.place, peak.place, peak.place, 0.0, 0.0, 0, level, level, False)
    return peak, slide


def _slide(cut: Cut, trace: Trace, top: int, inner: slice, level: float) -> _Slide | None:
    """The steady window behind a peak at `top`, up to where the line was let go."""
    rules, rate = trace.rules, trace.rate_hz
    freed = cut.freed
    above = np.flatnonzero(freed[: cut.inner.stop] > 0.8 * level)
    if not above.size:
        return None
    last = min(inner.stop, (int(above[-1]) + 1) * cut.size) - 1 - round(_RELEASE_S * rate)
    until = last
    first = top + max(2, round(rules.settle_s * rate))
    if until - first < 2:
        return _Slide(top, top, max(top, until), 0.0, 0.0, 0, level, level, False)
    part = cut.raw[first : until + 1]
    quarter = max(1, part.size // 4)
    ends = float(part[-quarter:].mean())
    middle = float(np.median(part))
    falls = ends < 0.6 * float(part[:quarter].mean()) and ends < 0.8 * middle
    mean = float(part.mean())
    if rules.window is not None:
        per_mm = rate / rules.window.speed_mm_per_s
        first = top + round(rules.window.skip_mm * per_mm)
        last = min(last, first + round(rules.window.length_mm * per_mm))
    if last - first < 2:
        return _Slide(top, top, max(top, until), 0.0, 0.0, 0, level, level, False)
    return _Slide(
        first, last, until, float(cut.at_s[first]), float(cut.at_s[last]),
        last - first + 1, mean, middle, falls,
    )  # fmt: skip


def _pull(
    trace: Trace,
    candidate: Candidate,
    cut: Cut,
    peak: Peak,
    slide: _Slide,
    largest: float,
    dwell_from_s: float | None,
) -> Pull:
    rules = trace.rules
    is_peak_struck = is_struck(cut, peak.place, slide.middle_n)
    struck = slide_knocks(cut, slide.first, slide.until, slide.middle_n)
    for knock in struck.taken:
        cut.clear(knock)
    inside = slice(slide.first, slide.last + 1)
    steady: Steady = steady_of(
        cut.raw[inside], cut.at_s[inside], slide.start_s, slide.end_s, trace.noise_n
    )
    ahead = cut.smooth[: peak.place]
    floor = candidate.held_n + max(lowest_n(trace.blocks, rules), 4 * cut.noise_n)
    low = np.flatnonzero(ahead <= floor)
    onset = int(low[-1]) if low.size else 0
    remarks = []
    if candidate.held_n > 0:
        remarks.append(
            f"The line was not slack before it: it was held at {candidate.held_n:.3g} N."
        )
    if candidate.cut_behind:
        remarks.append("The trace ends before the line was slack again.")
    if cut.knocks:
        remarks.append(cut.left_out())
    if is_peak_struck:
        remarks.append(
            "A knock fell so near its first peak that it may have made it higher or lower, or "
            "hidden it."
        )
    if struck.left:
        _, moments = cut.moments_of(struck.left)
        remarks.append(
            f"At {moments} of its slide the force rose faster than a sled lets it that is pulled "
            "as it was at first: by a knock, or a hand that pulled faster, which is in the mean."
        )
    if peak.rise_n > _COARSE * peak.force_n:
        remarks.append(_between(peak))
    equal = 0
    if rules.range_n is None:
        span = slice(cut.first + cut.span.start, cut.first + cut.span.stop)
        equal = equal_on_top(trace.force_n, span, peak.rise_n)
    if equal:
        remarks.append(
            f"Its {equal} highest samples are equal and none of the trace is higher: if the gauge "
            "was at the end of its range, its first peak was higher than it could show."
        )
    later = float(cut.raw[peak.place : cut.span.stop].max())
    if later > peak.sample_n + 4 * trace.noise_n:
        remarks.append(
            f"A later force of {later:.3g} N exceeds its first peak; the first one is static."
        )
    onset_s = float(cut.at_s[onset])
    zero, u_zero = _zero(trace, cut, peak.place)
    return Pull(
        cut.first + onset, min(cut.last, candidate.end * cut.size), zero, u_zero, onset_s,
        float(cut.at_s[peak.place]), peak.force_n, peak.u_n, peak.between_n,
        peak.sample_n, largest, steady,
        float(cut.at_s[min(slide.until, cut.at_s.size - 1)]),
        None if dwell_from_s is None else max(0.0, onset_s - dwell_from_s), tuple(remarks),
    )  # fmt: skip


def _between(peak: Peak) -> str:
    """What is to be told of a peak from samples that are far from one another."""
    faster = "sample faster, or pull more slowly."
    if peak.between_n is None:
        return (
            f"Its first peak may lie by up to {peak.rise_n:.2g} N "
            f"({100 * peak.rise_n / peak.force_n:.2g} %) above the highest sample and is not "
            f"corrected for it, since too few samples are on the rise to tell: {faster}"
        )
    return (
        f"Its first peak is taken to lie by {peak.between_n:.2g} N "
        f"({100 * peak.between_n / peak.force_n:.2g} %) above all samples, with a standard "
        f"uncertainty of {peak.u_n:.2g} N, since the force rose by {peak.rise_n:.2g} N from one to "
        f"the next: {faster}"
    )


def _zero(trace: Trace, cut: Cut, index: int) -> tuple[float, float]:
    """The zero under a sample, and its standard uncertainty.

    By the noise of the rests, and by what the zero moved from the one before to the one behind:
    its course between them is not known, so that its half counts as the half-width of a
    rectangle.
    """
    at = (cut.first + index) / cut.size
    slack = trace.rests.slack
    place = bisect_right(slack, at, key=lambda flat: flat.end)
    noise = trace.noise_n / (0.4 * trace.rate_hz) ** 0.5
    ends = [flat.level_n for flat in slack[max(0, place - 1) : place + 1]]
    moved = abs(ends[-1] - ends[0]) / 2 if len(ends) == 2 else trace.rules.slack_n
    return float(cut.zero[index]), float(np.hypot(noise, moved / 3**0.5))
