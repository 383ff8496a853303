"""What is told where no place in the bytes gives all the numbers that were shown. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.learn.finding import Finding, Outcome
from acquire.learn.lines.places import minus_words, stand_as_digits
from acquire.learn.lines.scaled import OTHER_POINT, POINT, other_point
from acquire.learn.presses.framing import has_byte_behind, is_text, terminator
from acquire.learn.presses.press import Press
from acquire.learn.told.reasons import (
    ABOVE_ZERO,
    BYTE_BEHIND,
    LENGTHS,
    NO_END,
    OTHER_END,
    OTHER_LENGTHS,
    OTHER_SUM,
)
from acquire.learn.told.told import nothing


def nowhere(presses: Sequence[Press], why: str = "") -> Finding:
    """That no explanation fits, and what may be the reason, with `why` there are no frames."""
    end = terminator([press.data for press in presses])
    has_minus = end is not None and minus_words(presses, end)
    step = ABOVE_ZERO if has_minus else ""
    if has_byte_behind([press.data for press in presses]):
        return Finding(Outcome.NONE, (BYTE_BEHIND,), next_step=OTHER_SUM)
    if (point := other_point(presses)) is not None:
        return Finding(Outcome.NONE, (POINT.format(*point),), next_step=OTHER_POINT)
    return Finding(Outcome.NONE, nothing(presses, why), is_nowhere=True, next_step=step)


def of_lengths(presses: Sequence[Press]) -> Finding | None:
    """Digits in frames of several lengths, which no profile reads; None where it is another thing.

    Text and a byte behind a text are told as such.
    """
    data = [press.data for press in presses]
    sizes = sorted({len(one) for one in data})
    if has_byte_behind(data) or len(sizes) < 2 or not stand_as_digits(presses):
        return None
    is_endless = is_text(data) and terminator(data) is None
    if is_text(data) and not is_endless:
        return None
    why = NO_END if is_endless else LENGTHS
    told = why.format(", ".join(map(str, sizes[:-1])), sizes[-1])
    return Finding(Outcome.NONE, (told,), next_step=OTHER_END if is_endless else OTHER_LENGTHS)
