"""Digits at the end of a line that change from press to press and that nothing explains. Pure.

A checksum stands there, and many are made in ways that no profile can name. Let free it would be
checked by nothing, and a line that a fault has changed would be read. What is evidently a number of
its own is none: it moves slowly, a label or a sign for percent names it, it goes with the number on
the display, it has more digits at one press than at another, or it differs beside the same line.
Digits that are written as the decimals of a number of their own are none unless some sum that is
known fits them, since none is written with a point: these need differ beside the same number on the
display only, for in a line that counts none is like another one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal
from itertools import pairwise, product
from typing import NamedTuple

from acquire.learn.checksums.proven import MOST_CHANCE
from acquire.learn.checksums.sums import DECIMAL, SUMS
from acquire.learn.pieces.column import Column, is_constant
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.gauges import is_label
from acquire.learn.presses.framing import encoded
from acquire.wire import CHECKSUMS, Sent

_PARTS = frozenset(("space", "\t", ":", "="))
_PARTS_FIELDS = " ,;|\t:="
"""Signs between two numbers, or a label and its number: a sum most often has one of its own."""
_BANDS = frozenset(("UV", "UVA", "UVB", "UVC", "VIS", "VL", "VLT", "IR", "NIR"))
"""What names a number of a meter for transmittance (common practice, no source)."""
_STATISTICS = frozenset(
    ("MIN", "MAX", "AVG", "AVE", "MEAN", "MED", "SD", "STD", "STDEV", "DEV", "CV", "RANGE", "SPAN")
)
"""What names a number made of several readings (common practice, no source)."""
_SUM_NAMES = frozenset(
    ("CS", "CK", "CHK", "CRC", "SUM", "BCC", "LRC", "FCS", "XOR", "CHECK", "CHECKSUM")
)
"""What names a checksum (common practice, no source)."""
_MOST_SHARE = 110
"""In percent; a few more than all are noise."""
_WIDTHS = (2, 4)
"""Hexadecimal digits of most sums."""
_MANY = 3
_SLOW = 5
"""So far a number that moves slowly goes from press to press."""
_ENOUGH = 6
"""Presses by which an order of all numbers hardly comes of chance: 1 in 360 either way."""

STRANGE_END = Doubt(
    "the digits at the end change from press to press, and nothing says what they are: "
    "they may be a checksum that no profile can name. Press twice on the same thing, so that the "
    "same number is shown: where they differ then they are none. Otherwise the profile is to be "
    "written by hand"
)
STRANGE_COUNTED = Doubt(
    "the digits at the end change from press to press, and nothing says what they are: they may be "
    "a checksum that no profile can name. A press with all else alike would tell, and none is, for "
    "a count, a time or another number in the line is another one at each",
    next_step="write the profile by hand: copy config/profiles/gloss-press.toml; or set the meter "
    "to send the number alone, if it can, and learn from such presses",
)
STRANGE_NUMBER = Doubt(
    "the digits at the end change from press to press, and nothing says what they are: "
    "they may be a checksum that no profile can name, or a number of their own, such as another "
    "band. Press on something for which that number would have one digit more or fewer (as 100, or "
    "one below 10): digits of a checksum keep their width. If they never become more or fewer, the "
    "profile is to be written by hand"
)
WANTED = {
    STRANGE_END.why: "a press on the same thing as one before",
    STRANGE_COUNTED.why: "lines in which nothing else moves, or a profile written by hand",
    STRANGE_NUMBER.why: "a press with fewer or more digits at the end",
}
"""The press that settles each."""


class Ending(NamedTuple):
    """The last word of each line that may be any, `rests` without it, and the `label` before it.

    `is_held`: it may not be any, and has so many values that it is no word on the press.
    `is_parted`: it stands apart from the rest as fields do, or letters touch it. `is_alike`:
    letters touch another number of the line, too. `are_decimals`: they stand behind a whole number
    that stood still, in a field of its own, and a point that parts no fields.
    `is_counted`: something in the rest is another one at each press, as a count or a time is.
    """

    texts: tuple[str, ...]
    rests: tuple[str, ...]
    label: str
    is_held: bool = False
    is_parted: bool = False
    is_alike: bool = False
    are_decimals: bool = False
    is_counted: bool = False


def ending_of(
    columns: Sequence[Column], free: Sequence[Sequence[str]], what: Sequence[str | None] = (),
    counts: Collection[int] = (),
) -> Ending | None:  # fmt: skip
    """The last words of lines; None where they are neither let `free` nor may be a sum.

    `what` are the patterns of the columns, `counts` the places of those that count or tell a time.
    """
    place = max(at for at, column in enumerate(columns) if len(column.kind) > 1)
    texts = columns[place].texts
    is_held = _is_held(texts, what[place] or "" if what else "")
    if columns[place].kind != "alnum" or not (texts in free or is_held):
        return None
    if place + 1 < len(columns) and columns[place + 1].kind == "%":
        return None
    others = [column.texts for at, column in enumerate(columns) if at != place]
    are_decimals = _are_decimals(columns[: place + 1])
    before = place - (3 if are_decimals else 1)
    while before >= 0 and columns[before].kind in _PARTS:
        before -= 1
    word = columns[before].texts if before >= 0 else ("",)
    rests = tuple("".join(row) for row in zip(*others, strict=True))
    label = word[0].strip(" ") if is_constant(word) else ""
    beside = columns[place - 1].texts if place else ("",)
    is_parted = all(text[:1] == " " or text[:1].isalpha() for text in texts) or all(
        text[-1:] and text[-1] in _PARTS_FIELDS for text in beside
    )
    is_counted = any(len(set(columns[at].texts)) == len(texts) for at in counts if at != place)
    return Ending(
        texts, rests, label, is_held, is_parted, _is_alike(columns[:place]),
        are_decimals, is_counted,
    )  # fmt: skip


def _are_decimals(columns: Sequence[Column]) -> bool:
    """Whether the last digits are those of a number with a point that parts no fields: `;0.33`.

    A comma may part two numbers, unless another sign parts fields or the display has decimals.
    """
    if len(columns) <= _WITH_DECIMALS:
        return False
    parting, whole, point, _ = columns[-_WITH_DECIMALS:]
    values = next((column.texts for column in columns if column.kind == "value"), ("",))
    is_point = (
        all(point.kind in text for text in values)
        or any(column.kind == "decimal" for column in columns)
        or parting.kind in (";", "|", "\t", ":", "=")
    )
    return (
        (point.kind == "." or (point.kind == "," and is_point))
        and is_constant(whole.texts)
        and whole.texts[0].strip(" ").isdecimal()
        and (whole.texts[0][0] == " " or parting.texts[0][-1:] in _PARTS_FIELDS)
        and parting.kind != point.kind
    )


def _is_alike(columns: Sequence[Column]) -> bool:
    """Whether letters touch a number that changes, too."""
    glued = any(
        not is_constant(column.texts) and all(map(_GLUED.fullmatch, column.texts))
        for column in columns
    )
    at = next((at for at, column in enumerate(columns) if column.kind == "value"), 0)
    return glued or (at > 0 and all(text[-1:].isalpha() for text in columns[at - 1].texts))


_GLUED = re.compile("[A-Za-z]+[0-9]+")
_WITH_DECIMALS = 4
"""Columns of decimals, the point, the whole number and what parts that from the rest."""


def _is_held(texts: Sequence[str], what: str) -> bool:
    """Whether digits of a sum are held to some: to those seen, or to a first one that was alike.

    Sums of lines that are much alike have few values. A word on a press is written in one of two.
    """
    is_hex = all(re.fullmatch("[0-9A-F]+|[0-9a-f]+", text) for text in texts)
    is_wide = len({len(text) for text in texts}) == 1 and len(texts[0]) in _WIDTHS
    has_held = "[0-9" in what and re.fullmatch(r"\[[^]]+\]\{\d+\}", what) is None
    return is_hex and is_wide and len(set(texts)) >= _MANY and (what[:3] == "(?:" or has_held)


def unexplained(
    ending: Ending, shown: Sequence[Decimal], heard: Sequence[datetime | None] = ()
) -> Doubt | None:
    """The doubt of the digits with which lines end; None where something explains them.

    `heard` is when each press came by the host's clock.
    """
    if ending.are_decimals and not _may_be_sum(ending):
        return None
    beside = list(map(str, shown)) if ending.are_decimals else ending.rests
    differ = len(set(zip(beside, ending.texts, strict=True))) > len(set(beside))
    if ending.is_held:
        return None if differ or _is_name(ending.label) else _open(ending)
    found = [re.fullmatch(r" *([A-Za-z]*)([0-9]+)", text) for text in ending.texts]
    letters = {one[1] for one in found if one is not None}
    if None in found or len(letters) != 1:
        return None
    word = letters.pop()
    if _is_name(word or ending.label):
        return None
    numbers = [int(one[2]) for one in found if one is not None]
    is_slow = all(abs(b - a) <= _SLOW for a, b in pairwise(numbers))
    # Letters glued to digits are how a code is written, and no number of its own.
    if is_slow and (not word or len(numbers) >= _ENOUGH):
        return None
    if differ:
        return None
    if _rise(numbers, max(len(one[2]) for one in found if one is not None)):
        return None
    if _go_on(numbers, heard):
        return None
    if _go_together(numbers, shown):
        return None
    is_told = len(set(shown)) < len(shown) and len(set(ending.rests)) == len(shown)
    told = _open(ending._replace(is_counted=ending.is_counted or is_told))
    return None if told is STRANGE_NUMBER and _have_widths(ending.texts) else told


def _is_name(label: str) -> bool:
    """Whether a word before digits says what they are: `IR=79`, `IR940=79`."""
    return is_label(label) or label.upper().rstrip("0123456789") in _BANDS | _STATISTICS


def _open(ending: Ending) -> Doubt:
    """What would settle the digits.

    A number of its own is written as others are: parted as fields, and not filled up with zeros.
    """
    found = [re.fullmatch(r" *([A-Za-z]*)(0|[1-9][0-9]*)", text) for text in ending.texts]
    words = {one[1] for one in found if one is not None}
    if ending.are_decimals:
        return STRANGE_END
    same = STRANGE_COUNTED if ending.is_counted else STRANGE_END
    if None in found or len(words) > 1 or not ending.is_parted:
        return same
    word = words.pop()
    if (word or ending.label).upper() in _SUM_NAMES:
        return same
    numbers = [int(one[2]) for one in found if one is not None]
    is_filled = len(set(map(len, ending.texts))) == 1 and ending.texts[0][0] == " "
    is_other = (word and not ending.is_alike) or not (is_filled or max(numbers) <= _MOST_SHARE)
    heads = [one[0][: one.start(2)] for one in found if one is not None]
    lines = [rest + head for rest, head in zip(ending.rests, heads, strict=True)]
    return same if is_other or _are_sums(lines, numbers) else STRANGE_NUMBER


def _may_be_sum(ending: Ending) -> bool:
    """Whether decimals may be a sum all the same: by their name, or since one that is known fits.

    It may leave out the whole number before them, or its point.
    """
    if ending.label.upper() in _SUM_NAMES:
        return True
    rests = [rest.rstrip(".,") for rest in ending.rests]
    wholes = [rest.rstrip("0123456789") for rest in rests]
    numbers = [int(text) for text in ending.texts if text.isdecimal()]
    return len(numbers) < len(rests) or any(
        _are_sums(lines, numbers) for lines in (ending.rests, rests, wholes)
    )


def _have_widths(texts: Sequence[str]) -> bool:
    """Whether there are more digits at some presses than at others."""
    return len({len(text.strip(" ")) for text in texts}) > 1


def _are_sums(lines: Sequence[str], numbers: Sequence[int]) -> bool:
    """Whether these are a sum of the rest of their lines, in as many digits as it has."""
    for first, is_bare in product((0, 1), (False, True)):
        whole = [line[first:] for line in lines]
        covered = [encoded(text.rstrip(_PARTS_FIELDS) if is_bare else text) for text in whole]
        pairs = list(zip(covered, numbers, strict=True))
        for sum_of, (_, most), sign in product(SUMS.values(), DECIMAL, (1, -1)):
            if all(sign * sum_of(data) % most == number for data, number in pairs):
                return True
        for one, sent in product(CHECKSUMS.values(), Sent):
            if all(sent.of(one.of(data), one.width_bits) == number for data, number in pairs):
                return True
    return False


def _rise(numbers: Sequence[int], width: int) -> bool:
    """Whether they rise, and so little that digits of a sum would hardly do so by chance.

    Of n numbers drawn from 10 to the width all are within a span with a chance of about
    n (span / 10^width)^(n - 1), and in this order with the n!-th part of it.
    """
    if any(b <= a for a, b in pairwise(numbers)):
        return False
    count, share = len(numbers), (numbers[-1] - numbers[0]) / float(10**width)
    return count * share ** (count - 1) / math.factorial(count) <= MOST_CHANCE


def _go_on(numbers: Sequence[int], heard: Sequence[datetime | None]) -> bool:
    """Whether they went on as the host's clock did, in seconds or parts of them."""
    known = [at for at in heard if at is not None]
    if len(known) != len(numbers):
        return False
    gone = [(at - known[0]).total_seconds() for at in known]
    return gone[-1] > _LEAST_GONE_S and any(
        all(
            abs(number - numbers[0] - unit * seconds) <= unit * _SLACK_S
            for number, seconds in zip(numbers, gone, strict=True)
        )
        for unit in (1, 10, 100, 1000)
    )


_LEAST_GONE_S = 4.0
_SLACK_S = 0.5
"""So much sooner or later a press may be heard."""


def _go_together(numbers: Sequence[int], shown: Sequence[Decimal]) -> bool:
    """Whether larger numbers stand beside larger ones on the display, or beside smaller ones."""
    if len(set(shown)) < _ENOUGH:
        return False
    pairs = sorted(zip(shown, numbers, strict=True))
    steps = [b - a for (_, a), (_, b) in pairwise(pairs)]
    return all(step >= 0 for step in steps) or all(step <= 0 for step in steps)
