"""What washing leaves of a gain: shares kept, trend and half-life, in sentences.

Pure; any thread.
"""

from __future__ import annotations

from acquire.analysis.durability.retention import Kept
from acquire.analysis.durability.trend import Trend
from acquire.analysis.durability.washresult import WashResult
from acquire.analysis.durability.wearing import Wear
from acquire.analysis.figures import with_reach
from acquire.report.washing.washwords import kept_words
from acquire.report.words.wording import listed


def kept_sentences(found: WashResult, wear: Wear) -> str:
    """The share of the first gain kept at each count, or why there is none."""
    if wear.lacking:
        gain = wear.gain
        # Where a life is asked for, the reason has been given with it.
        is_told = found.criterion is not None and found.criterion.share > 0
        if gain.estimate is None or gain.reach is None:
            return "" if is_told else f"Nothing is known to be kept: {wear.lacking}."
        why = "" if is_told else f"Nothing can be kept: {wear.lacking}. "
        return f"{why}{gain_words(found, gain.estimate, gain.reach)}"
    shown = [(look.washes, k) for look, k in wear.kept if k.share is not None]
    if not shown:
        why = next((k.lacking for _, k in wear.kept if k.lacking), "")
        because = f", because {why}" if why else ""
        return f"What is kept of its gain is not known after any wash yet{because}."
    criterion = found.criterion.share if found.criterion is not None else 0.0
    parts = [kept_words(washes, k, criterion) for washes, k in shown]
    text = f"Of its gain it kept {listed(parts, len(parts))}."
    last, final = shown[-1]
    return f"{text} {_fall(last, final, wear)}"


def gain_words(found: WashResult, gain: float, reach: float) -> str:
    """How large a first gain was."""
    figure, half = gain_figures(found, gain, reach)
    if found.is_film:
        return f"Before the first wash it let {figure} ± {half} % of its blank's light through."
    unit = f" {found.result.symbol}" if found.result.symbol else ""
    return f"Its gain was {figure} ± {half}{unit}, better upwards."


def gain_figures(found: WashResult, gain: float, reach: float) -> tuple[str, str]:
    """A gain and its half width; of a film what it lets through of its blank, in percent."""
    if not found.is_film:
        return with_reach(gain, reach)
    scale = found.result.basis.scale
    logarithm = gain if found.result.basis.higher_is_better else -gain
    return scale.reach(logarithm, reach)


def _fall(washes: int, kept: Kept, wear: Wear) -> str:
    if kept.high is None or kept.low is None:
        return ""
    if kept.high < 1:
        gone = " and that nothing is left is possible" if kept.low <= 0 else ""
        return f"That some of it was lost by then is shown{gone}."
    if kept.low > 1:
        return f"At {washes} washes it is more than at first, which washing does not explain."
    alone = " by that count alone" if wear.trend is not None and wear.trend.is_fall_shown else ""
    return f"That any of it was lost by then is not shown{alone}."


def _trend_words(wear: Wear, found: Trend) -> str:
    """What the order of the counts shows beside what the last of them does (`_fall`)."""
    if found.smallest is not None and not found.can_show:
        return (
            found.tied
            or f"{sum(found.counts)} counts are too few for a trend to show by their order."
        )
    last = next((k for _, k in reversed(wear.kept) if k.share is not None), None)
    low, high = (None, None) if last is None else (last.low, last.high)
    if low is not None and high is not None and found.p_fall is not None:
        if found.is_fall_shown and low <= 1 <= high:
            return f"All counts together show that it falls with the washes{found.chance}."
        if not found.is_fall_shown and high < 1:
            return f"The order of the counts by itself does not show it{found.chance}.{found.why}"
    return f"Over the counts: {lower_first(found.words)}"


def over_counts(wear: Wear) -> tuple[str, ...]:
    """Trend and half-life, or why there are none."""
    if wear.lacking or not wear.is_kept:
        return ()
    said = []
    if wear.trend is not None:
        said.append(_trend_words(wear, wear.trend))
    elif wear.no_trend:
        said.append(f"No trend is tested: {wear.no_trend}.")
    if wear.fit is not None:
        said.append(wear.fit.words_for(_whom(wear)))
    elif wear.no_fit:
        said.append(f"No half-life: {wear.no_fit}.")
    return tuple(said)


def _whom(wear: Wear) -> str:
    """Those that the interval of a half-life holds for."""
    if wear.is_of_zones:
        return "zones treated so"
    return "this zone" if len(wear.zones) == 1 else "these zones"


def lower_first(text: str) -> str:
    """A sentence as it goes on behind a colon."""
    return text[:1].lower() + text[1:]
