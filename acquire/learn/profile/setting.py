"""Bytes of a frame that may say to what the meter was set: its geometry, band or unit. Pure.

A person says one geometry and one unit of all presses. A byte beside the number that was another
one at another press, and that is no count, sign or sum, may be the code of another geometry or
unit, and would be let go as a status. 20, 60 and 85 say themselves what they are
(`acquire.learn.beside.anglebyte`); of other codes nothing in the bytes tells, and a person has to
say that all presses were of one setting. What was another number at each press, or moves as a
temperature or a charge does, is no code (`acquire.learn.beside.again`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set

from acquire.learn.beside.again import came_again, is_slow
from acquire.learn.beside.against import Says
from acquire.learn.beside.angles import ANGLES
from acquire.learn.finding import Finding, Outcome
from acquire.learn.frames.frames import Frame
from acquire.learn.lines.line import Line
from acquire.learn.numbers.held import MOST_VALUES, Held
from acquire.learn.numbers.number import NumberAt
from acquire.learn.pieces.column import is_constant
from acquire.learn.presses.press import About
from acquire.model import Quantity

_SMALL = 16
_FEW_BITS = 3
_HIGHEST_COUNT = 4
"""Above it no count that begins with the lesson is the code of one setting after the other."""
_LONG = 3
"""So many digits has no code of a few settings."""
_FLAGS = (0x08, 0x10, 0x20, 0x40, 0x80)
_FIRST_DIGITS = frozenset(b"01234")
_FIRST_LETTERS = frozenset(b"ABCDabcd")
_LETTERS = frozenset(b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz%")
_UNITS = frozenset(b"NGKLMOngklmo")
"""Letters that begin the signs of units of force."""
_WHOLE = re.compile("[0-9]+")
_DECIMAL = re.compile("(?<![0-9.,])[0-9]+[.,][0-9]+(?![0-9.,])")
_SIGNS = frozenset(((0x00, 0xFF), (0x2B, 0x2D), (0x20, 0x2D), (0x30, 0x2D), (0x00, 0x80)))
"""What a byte above and below zero is that goes on with a number, or writes its sign."""
WHAT = {
    Quantity.GLOSS: "geometry",
    Quantity.FORCE: "unit",
    Quantity.TRANSMITTANCE: "band",
}
"""What a person said once of all presses, for each kind of meter."""
_ONE_SETTING = (
    "set the meter to one {0}, press three times or more, and learn from these presses; if all of "
    "these were of one {0}, say so: --one-setting"
)


def unsettled(
    frame: Frame, data: Sequence[bytes], says: Says, about: About, believed: Sequence[str],
    left: tuple[str, ...],
) -> Finding | None:  # fmt: skip
    """What is known where presses may have been of several settings; None where they were of one.

    Of the first `about.settled` presses a person said so, or frame and line `says` it.
    """
    if frame.angles is not None or _is_told(says, about):
        return None
    places = [*_places(frame, data, about)]
    told = [f"byte {place} was {seen([f'{one[place]:02X}' for one in data])}" for place in places]
    return _open(told, about, believed, left)


def codes_unsettled(
    line: Line, about: About, believed: Sequence[str], left: tuple[str, ...]
) -> Finding | None:
    """The same of lines, by what may be codes in them."""
    is_unit = about.kind is Quantity.FORCE and bool(line.units) and not about.word
    # What stands there at every press, and was said as well, is it.
    is_held = about.channel in line.fixed and repr(about.channel) in line.still
    is_angle = about.channel in ANGLES and is_held
    if line.channels or is_unit or is_angle or _is_told(line.says, about):
        return None
    told = [
        f"beside the number stood {seen([repr(text) for text in texts])}"
        for texts in line.codes
        if not set(texts) <= {*texts[: about.settled]}
    ]
    return _open(told, about, believed, left)


def _is_told(says: Says, about: About) -> bool:
    """Whether the bytes themselves say what a person said: every press names it."""
    if about.kind is Quantity.FORCE:
        # A word that means a unit by a person's word alone may as well be a label.
        return bool(says.units) and not about.word
    return bool(says.angles if about.kind is Quantity.GLOSS else says.bands)


def _open(
    told: Sequence[str], about: About, believed: Sequence[str], left: tuple[str, ...]
) -> Finding | None:
    if not told:
        return None
    what = WHAT[about.kind]
    why = f"{' and '.join(told)}: that may be another {what}, and a profile would say one of all"
    return Finding(
        Outcome.UNSAID, (*believed, why), left, missing="setting", likely=why,
        next_step=_ONE_SETTING.format(what),
    )  # fmt: skip


def _places(frame: Frame, data: Sequence[bytes], about: About) -> Iterator[int]:
    """The places that may say another setting of presses that nobody has spoken for."""
    number, twin = frame.number, frame.held.twin
    known = {*range(number.offset, number.end), *frame.known_places}
    known |= set(twin.places if twin is not None else ())
    if about.counts_to is not None and frame.held.counted is not None:
        known |= set(frame.held.counted.places)
    for place in sorted(set(range(frame.length)) - known):
        mask = ~_told_by(number, place)
        seen = [one[place] & mask for one in data]
        spoken = {one[place] & mask for one in data[: about.settled]}
        if not set(seen) <= spoken and _may_be(place, seen, data, frame.held, about.kind, known):
            yield place


def _told_by(number: NumberAt, place: int) -> int:
    """The bits of a place that belong to the number, as its sign or its decimals."""
    parts = [(one.offset, one.mask) for one in (number.decimals, number.minus) if one is not None]
    return sum(mask for at, mask in parts if at == place) & 0xFF


def _may_be(
    place: int, seen: Sequence[int], data: Sequence[bytes], kept: Held, kind: Quantity,
    known: Set[int],
) -> bool:  # fmt: skip
    if len(set(seen)) == 1 or _is_in_number(data, place, known):
        return False
    for at, plus, minus in kept.signs:
        if at == place:
            return (plus, minus) not in _SIGNS
    # In a text a letter that goes up by one is no count.
    is_text = all(0x20 <= byte < 0x7F or byte in b"\t\r\n" for one in data for byte in one)
    is_letter = is_text and all(chr(one).isalpha() for one in seen) and len(set(seen)) < MOST_VALUES
    count = kept.counted
    if count is not None and place in count.places:
        # Where its lowest place counts, those above it go on with it.
        is_long = count.are_digits and count.size >= _LONG
        return place == count.lowest and not is_long and (is_letter or _is_cycle(seen))
    if place in (*kept.counters, *kept.copies, *kept.likely):
        return is_letter or _is_cycle(seen)
    return _is_code(seen, kind)


def _is_cycle(seen: Sequence[int]) -> bool:
    """Whether what goes up by one may be the code of one setting after the other."""
    distinct = set(seen)
    is_first = max(distinct) <= _HIGHEST_COUNT
    # Beside a flag that is set at all presses they are as low.
    is_first |= any(all(0 <= one - flag < _HIGHEST_COUNT for one in distinct) for flag in _FLAGS)
    return len(distinct) < MOST_VALUES and (
        is_first or distinct <= _FIRST_DIGITS or distinct <= _FIRST_LETTERS
    )


def _is_code(seen: Sequence[int], kind: Quantity) -> bool:
    """Whether these may be codes: some came again, or they are small, or of few bits."""
    distinct = set(seen)
    are_letters = any(distinct <= letters for letters in (_FIRST_DIGITS, _FIRST_LETTERS))
    is_unit = kind is Quantity.FORCE and distinct <= _UNITS
    if is_slow(seen) and not (are_letters or is_unit):
        return False
    changed = 0
    for one in distinct:
        changed |= one ^ seen[0]
    is_small = max(distinct) < _SMALL or distinct <= _LETTERS
    is_few = len(distinct) <= MOST_VALUES and is_small
    return came_again(seen) or is_few or changed.bit_count() <= _FEW_BITS


def _is_in_number(data: Sequence[bytes], place: int, known: Set[int]) -> bool:
    """Whether it is a digit of a longer number in digits that is measured.

    None in which there are only zeros before it, and none that came again, but for decimals that
    move. The `known` places are those of other numbers.
    """
    rows = [
        "".join("\0" if at in known else chr(byte) for at, byte in enumerate(one)) for one in data
    ]
    decimals = [_around(row, place, _DECIMAL) for row in rows]
    if all(decimals) and not is_constant([re.split("[.,]", text)[-1] for text in decimals]):
        return True
    digits = [_around(row, place, _WHOLE) for row in rows]
    texts = [row[place] for row in rows]
    is_head = not any(row[place - 1 : place].isdecimal() for row in rows)
    if is_head and is_constant([digit[1:] for digit in digits]):
        # Nothing behind it moves: they are no digits of one number.
        return False
    are_long = all(
        text.replace(one, "", 1).strip("0") for text, one in zip(digits, texts, strict=True)
    )
    return are_long and not came_again(digits)


def _around(text: str, place: int, what: re.Pattern[str]) -> str:
    """The number in a text within which a place is; empty where it is in none."""
    return next((one[0] for one in what.finditer(text) if one.start() <= place < one.end()), "")


def seen(texts: Sequence[str]) -> str:
    """What was seen at which press."""
    at: dict[str, list[str]] = {}
    for press, text in enumerate(texts, 1):
        at.setdefault(text, []).append(str(press))
    *words, last = [
        f"{text} at press{'es' if len(presses) > 1 else ''} "
        + " and ".join(filter(None, (", ".join(presses[:-1]), presses[-1])))
        for text, presses in at.items()
    ]
    return f"{', '.join(words)} and {last}"
