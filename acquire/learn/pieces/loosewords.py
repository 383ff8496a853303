"""Words anywhere in the presses: what may be the unit of the number, and what was taken for labels.

Pure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.pieces.unitlike import WORD, Sort, compound, is_letter_unit, shown, sort_of
from acquire.learn.pieces.units import kinds_of
from acquire.model import Quantity

NO_CHANCE = 3
"""So many letters in a row are a word, also between other bytes."""

_LOOSE = re.compile(r"(?<![A-Za-z])([A-Za-z]{1,3})(?![a-z])")
_ALONE = re.compile(r"(?<![A-Za-z%\xa1-\xff])(?<![0-9])(?<![0-9][ _])([A-Za-z%\xa1-\xff]+)")
"""A word that is not that of a number before it."""
_NAMES = re.compile("[ :=#]{0,2}[0-9]")
"""Behind the name of a number."""
_DENSITY = re.compile(r"(?<![A-Za-z])(?:[AD]|(?<![0-9.])E)(?![A-Za-z0-9])")
_OVER_AN_AREA = re.compile("/[cm]?m(?:2|\xb2|\xc2\xb2)")
_OTHER = re.compile(rb"[\x80-\xb4\xb6-\xff]")
_IS_HEX = re.compile("[0-9A-Fa-f]+")


def loose_in(data: bytes, kind: Quantity) -> set[str]:
    """What of a text may be the unit of its number, anywhere, for a meter of this kind."""
    text = data.decode("latin-1")
    words = {found[1] for found in _LOOSE.finditer(text) if kind in kinds_of(found[1])}
    if kind is Quantity.TRANSMITTANCE:
        words |= set(_DENSITY.findall(text))
    for found in _ALONE.finditer(text):
        word, rest = found[1], text[found.end() :]
        if (more := compound(word, rest) if kind in kinds_of(word) else "") and word != "%":
            words.add(shown(word + more))
        elif word == "%" or (sort_of(word, kind) is Sort.STRANGE and len(word) > 1):
            words.add(shown(word))
        elif (over := _OVER_AN_AREA.match(rest)) is not None:
            words.add(shown(word + over[0]))
        elif len(word) == 1 and (kinds_of(word) or is_letter_unit(word, kind)):
            words |= set() if _NAMES.match(rest) else {word}
    return words


def labels_in(presses: Sequence[bytes], kind: Quantity, *, is_text: bool) -> tuple[str, ...]:
    """Words that all presses have and that no table knows, nor as plainly no unit.

    In bytes that are no text only words of three letters and more.
    """
    if not is_text:
        # Other bytes beside a word may look like letters of it.
        presses = [_OTHER.sub(b"\0", data) for data in presses]
        if len(set(map(len, presses))) == 1:
            columns = zip(*presses, strict=True)
            presses = [bytes(seen[0] if len(set(seen)) == 1 else 0 for seen in columns)]
    found = [_labels_in(data.decode("latin-1"), kind) for data in presses]
    words = set.intersection(*found)
    return tuple(sorted(word for word in words if is_text or len(word) >= NO_CHANCE))


def _is_foreign(word: str, kind: Quantity) -> bool:
    return len(word) == 1 and word.isalpha() and bool(kinds_of(word)) and kind not in kinds_of(word)


def _labels_in(text: str, kind: Quantity) -> set[str]:
    words = set()
    for found in WORD.finditer(text):
        word = found[0]
        beside = text[max(found.start() - 1, 0) : found.start()] + text[found.end() :][:1]
        # Letters and digits up to F may be a number.
        is_hex = _IS_HEX.fullmatch(word) and re.search("[0-9]", beside)
        told = shown(word)
        is_word = len(told) > 1 and any(map(str.isalpha, told))
        is_unknown = is_word and sort_of(word, kind) is Sort.UNKNOWN and not is_hex
        # A letter that is a unit somewhere, and the name of another number here.
        if is_unknown or (_is_foreign(word, kind) and _NAMES.match(text, found.end())):
            words.add(told)
    return words
