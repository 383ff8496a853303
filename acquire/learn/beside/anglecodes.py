"""A short word of a line that went one to one with the geometry that the line says. Pure.

Where they part, nobody knows which of them is right: such a line is noise, as a frame is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from acquire.learn.beside.angles import ANGLES
from acquire.learn.beside.codes import codes_of
from acquire.learn.pieces.column import Column, one_of, pattern
from acquire.learn.pieces.units import kinds_of
from acquire.model import Quantity


class AngleCodes(NamedTuple):
    """The place of such words, and each with its geometry, in the order of both."""

    place: int
    angles: tuple[tuple[str, str], ...]

    def pattern(self, texts: Sequence[str]) -> str:
        """What may stand there; `texts` are what did."""
        pad = " *" if any(text.startswith(" ") for text in texts) else ""
        words = one_of([word for word, _ in self.angles]).removeprefix("(?:")
        return f"{pad}(?P<geometry_again>{words}"


def angle_codes(
    columns: Sequence[Column], said: Sequence[str], taken: Iterable[int]
) -> AngleCodes | None:
    """The first place with a word of its own at each geometry that was `said`; None without one.

    Of a gloss meter. `taken` are the places of which is known what they are.
    """
    may_be = set(codes_of(columns, Quantity.GLOSS)) if len(set(said)) > 1 else set()
    for place in sorted({*range(len(columns))} - {*taken}):
        texts = tuple(text.strip(" ") for text in columns[place].texts)
        pairs = sorted({*zip(texts, said, strict=False)}, key=lambda pair: (pair[1], pair[0]))
        is_one_to_one = len(pairs) == len(set(texts)) == len(set(said))
        # One word has one meaning in a profile, and a unit is looked at by itself.
        is_known = set(texts) & set(ANGLES) or any(map(kinds_of, texts))
        if texts in may_be and is_one_to_one and not is_known and _is_held(columns[place]):
            return AngleCodes(place, tuple(pairs))
    return None


def _is_held(column: Column) -> bool:
    """Whether no other words than those that were seen may stand there, for all that is known."""
    words = tuple(dict.fromkeys(column.texts))
    return pattern(column.texts, column.kind, ".") == one_of(words)
