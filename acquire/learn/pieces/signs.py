"""Signs that stand elsewhere than right before the digits: apart, behind, in letters. Pure.

A closed table of usual forms (common practice, no source). A sign apart, behind or in brackets says
itself what it is. Letters do not: some pairs are names of directions, and only presses of both
show which is below zero.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.numbers.powers import has_power
from acquire.learn.pieces.column import literal
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.units import kinds_of

OFTEN = 2
"""Presses above zero and below it by which letters hardly go with the sign by chance."""


class Sign(NamedTuple):
    """How a sign is written: what stands `before` and `behind` the digits, above zero and below.

    `is_right_before`: so it did at every press, and spaces may fill up smaller numbers between.
    `is_behind_unit`: a word for a unit stands between the digits and what is behind.
    """

    before: tuple[str, str] = ("", "")
    behind: tuple[str, str] = ("", "")
    is_right_before: bool = False
    is_behind_unit: bool = False

    @property
    def is_letter(self) -> bool:
        """Whether it is told by letters."""
        return any(text.strip(" ").isalpha() for text in (*self.before, *self.behind))

    def tokens(self) -> dict[str, str]:
        """What a profile says of it: each text without spaces, and what it means."""
        if self.is_right_before:
            return {"": "plus", "+": "plus", "-": "minus"}
        texts = [a.strip(" ") + b.strip(" ") for a, b in zip(self.before, self.behind, strict=True)]
        return {texts[0]: "plus", texts[1]: "minus"}

    def about(self, value: str, *, is_padded: bool) -> str:
        """The pattern of a value with its sign."""
        if self.is_right_before:
            return f" *(?P<sign>[+-]?){value}"
        # Spaces before a sign that stands apart are before digits as well, where there is none.
        is_outside = is_padded and self.before[0] != " " and self.before != ("", "-")
        pad = " *" if is_outside else ""
        before = f"{pad}(?P<sign>{_either(self.before)})" if any(self.before) else ""
        return f"{before}{value}{'' if self.is_behind_unit else self.about_behind()}"

    def about_behind(self) -> str:
        """The pattern of what stands behind."""
        # Two places where spaces may stand would trade them.
        gap = " *" if any(text.strip(" ").isalpha() for text in self.behind) else ""
        gap = " +" if self.is_behind_unit else gap
        return f"(?P<sign_behind>{gap}{_either(self.behind)})" if any(self.behind) else ""

    def __str__(self) -> str:
        if self.is_right_before:
            return "'-' before the number, with spaces between where it has fewer digits"
        unit = " unit " if self.is_behind_unit else ""
        said = [f"{a}number{unit}{b}" for a, b in zip(self.before, self.behind, strict=True)]
        return f"{said[1]!r} below zero and {said[0]!r} above"


RIGHT_BEFORE = Sign(("", "-"), is_right_before=True)
PLUS_FIRST = Sign(before=("+", "-"))
SIGNS = (
    Sign(before=("", "-")),
    PLUS_FIRST,
    Sign(before=(" ", "-")),
    Sign(behind=("", "-")),
    Sign(behind=(" ", "-")),
    Sign(behind=("+", "-")),
    Sign(("", "("), ("", ")")),
    Sign((" ", "("), (" ", ")")),
    Sign(before=("", "\u2212")),
    Sign(before=("+", "\u2212")),
    *(Sign(before=pair) for pair in (("R", "L"), ("L", "R"), ("T", "C"), ("C", "T"), ("P", "N"))),
    *(Sign(behind=pair) for pair in (("R", "L"), ("L", "R"), ("T", "C"), ("C", "T"), ("P", "N"))),
    *(Sign(behind=pair) for pair in (("", "CR"), ("DR", "CR"))),
    *(
        Sign(behind=pair, is_behind_unit=True)
        for pair in (("R", "L"), ("L", "R"), ("T", "C"), ("C", "T"), ("P", "N"))
    ),
)
_UNIT_AND_REST = re.compile("( *([A-Za-z%]+))( .*)")


class Bare(NamedTuple):
    """A line without the sign of its number, which stands from `start` to `stop`."""

    line: str
    start: int
    stop: int


def bare(line: str, shown: Decimal, point: str, sign: Sign) -> Iterator[Bare]:
    """The line without its sign, for each place where this number stands with it."""
    dot = re.escape(point)
    for found in re.finditer(rf"(?<![0-9.,])[0-9]+(?:{dot}[0-9]+)?(?![0-9]|[.,][0-9])", line):
        if Decimal(found[0].replace(",", ".")) != abs(shown) or has_power(line, found.end()):
            continue
        # Nobody knows how it writes zero.
        for is_minus in (True, False) if not shown else (shown < 0,):
            before = _without_before(line[: found.start()], sign, is_minus=is_minus)
            behind = _without_behind(line[found.end() :], sign, is_minus=is_minus)
            if before is not None and behind is not None:
                start = len(before.rstrip(" "))
                stop = len(before) + len(found[0])
                yield Bare(before + found[0] + behind, start, stop)
                break


def _without_before(text: str, sign: Sign, *, is_minus: bool) -> str | None:
    own, other = sign.before[is_minus], sign.before[not is_minus]
    bare_text = text.rstrip(" ")
    if not own.strip(" "):
        other = other.strip(" ")
        if other and bare_text.endswith(other):
            return None
        return (text[:-1] if text.endswith(" ") else None) if own else text
    if not bare_text.endswith(own):
        return None
    rest = bare_text[: -len(own)]
    # Behind a letter that stands by itself a plus or minus is still one, and no power of ten.
    is_sign_of_all = not own.isalpha() and not re.search("[0-9.,] ?[A-Za-z]?$", rest)
    if (rest[-1:].isalnum() and not is_sign_of_all) or rest[-1:] in ("+", "-"):
        return None
    return rest + text[len(bare_text) :]


def _without_behind(text: str, sign: Sign, *, is_minus: bool) -> str | None:
    if sign.is_behind_unit:
        found = _UNIT_AND_REST.fullmatch(text)
        if found is None or not kinds_of(found[2]):
            return None
        rest = _without_behind(found[3], sign._replace(is_behind_unit=False), is_minus=is_minus)
        return None if rest is None else found[1] + rest
    own, other = sign.behind[is_minus], sign.behind[not is_minus]
    bare_text = text.lstrip(" ")
    if not own.strip(" "):
        other = other.strip(" ")
        if other and bare_text.startswith(other) and not bare_text[len(other) :][:1].isalnum():
            return None
        return (text[1:] if text.startswith(" ") else None) if own else text
    gap = text if own in "+-)" else bare_text
    if not gap.startswith(own) or gap[len(own) :][:1].isalnum():
        return None
    return gap[len(own) :]


def is_seen(sign: Sign, shown: Sequence[Decimal]) -> bool:
    """Whether presses have shown enough of both sides to know what it means."""
    least = OFTEN if sign.is_letter else 1
    below, above = sum(v < 0 for v in shown), sum(v > 0 for v in shown)
    return below >= least and (above >= least or not sign.is_letter)


def open_sign(sign: Sign, shown: Sequence[Decimal]) -> Doubt:
    """The doubt of letters that may go with the sign by chance."""
    below = sum(value < 0 for value in shown) < OFTEN
    return Doubt(
        f"the sign of the number may be told by letters, {sign}, or they went with it by chance: "
        f"press once more so that the number is {'below' if below else 'above'} zero",
        tell_above=None if below else Decimal(0),
        tell_below=Decimal(0) if below else None,
    )


def _either(pair: tuple[str, str]) -> str:
    plus, minus = pair
    if not plus:
        return f"{literal(minus)}?" if len(minus) == 1 else f"(?:{literal(minus)})?"
    if len(plus) == len(minus) == 1:
        return f"[{_in_class(plus)}{_in_class(minus)}]"
    return f"(?:{literal(plus)}|{literal(minus)})"


def _in_class(sign: str) -> str:
    return rf"\{sign}" if sign in "-()" else sign
