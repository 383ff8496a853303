"""Learning a meter that sends text: which number of which line is the one on the display.

Gives every place in which the displayed numbers stand, each as the line profile for it. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from acquire.learn.angles import ANGLES
from acquire.learn.column import Column, Style, is_constant, literal, shape
from acquire.learn.framing import lines_of
from acquire.learn.parts import Parts, columns_of
from acquire.learn.press import Press
from acquire.learn.proofs import NONE_PROVEN, Proven, TextProof, text
from acquire.learn.units import unit_of
from acquire.model import Quantity
from acquire.wire import CHECKSUMS

_EXPONENT = re.compile(r"[eE][+-]?[0-9]")
MOST_PATTERN = 300
LONGEST_LINE = 256
"""Bytes: no profile reads a longer one."""

Place = tuple[Style, tuple[str, ...], tuple[str, ...]]
"""How numbers are written, and the kinds of the pieces before and behind the value."""


@dataclass(frozen=True, slots=True)
class Line:
    """An explanation: lines of this pattern bear the displayed value.

    `unit_token` is the unit as sent, empty if none is; `channels` are tokens of geometries that are
    evident: in front of each value of the line, or at a place of their own. `evident_angle` is one
    that the line names, `likely_angle` a number that may be one.
    """

    pattern: str
    point: str
    unit_token: str
    unit: str
    has_count: bool
    channels: tuple[str, ...]
    proven: Proven
    example: str
    before: tuple[str, ...]
    behind: tuple[str, ...]
    evident_angle: str
    likely_angle: str
    others: int
    index: int

    def __str__(self) -> str:
        return f"the number of {self.example!r} {self.where}"

    @property
    def where(self) -> str:
        """Between what the number stands."""
        before, behind = "".join(self.before), "".join(self.behind)
        if not before:
            return f"before {behind!r}" if behind else "alone in its line"
        return f"between {before!r} and {behind!r}" if behind else f"behind {before!r}"


def lines(presses: Sequence[Press], end: bytes, kind: Quantity) -> list[Line]:
    """Every explanation by lines that end so, and that are short enough for a profile."""
    bursts = [
        [line.decode("latin-1") for line in lines_of(p.data, end) if len(line) <= LONGEST_LINE]
        for p in presses
    ]
    proven = text([line for burst in bursts for line in burst])
    if proven.likely is None:
        # A heading may be without.
        still = set(bursts[0]).intersection(*bursts[1:])
        proven = text([line for burst in bursts for line in burst if line not in still])
    bodies = [[_body(line, proven) for line in burst] for burst in bursts]
    for is_padded in (True, False):
        explained = _explained(presses, bodies, kind, is_padded=is_padded)
        if explained:
            break
    tail = _tail_pattern(proven)
    return [
        replace(
            e,
            proven=proven,
            pattern=e.pattern + tail,
            example=bursts[0][e.index],
            others=max(_unlike(e.pattern, burst) for burst in bodies),
        )
        for e in explained
        if len(e.pattern) + len(tail) <= MOST_PATTERN
    ]


def _unlike(pattern: str, burst: Sequence[str]) -> int:
    return sum(re.fullmatch(pattern, line) is None for line in burst)


def _explained(
    presses: Sequence[Press], bodies: Sequence[Sequence[str]], kind: Quantity, *, is_padded: bool
) -> list[Line]:
    places = None
    found: list[dict[Place, tuple[int, int, int]]] = []
    for burst, press in zip(bodies, presses, strict=True):
        here = dict(_places(burst, press.shown, is_padded=is_padded))
        found.append(here)
        places = set(here) if places is None else places & set(here)
    explained: list[Line] = []
    for place in sorted(places or ()):
        one = _explain(place, [here[place] for here in found], bodies, kind)
        if one is not None and one.pattern not in [e.pattern for e in explained]:
            explained.append(one)
    return explained


def stands_as_text(presses: Sequence[Press], end: bytes) -> bool:
    """Whether every press has its number somewhere as text."""
    return all(
        any(
            next(_spans(line.decode("latin-1"), press.shown, point), None)
            for line in lines_of(press.data, end)
            for point in ".,"
        )
        for press in presses
    )


def has_exponent(presses: Sequence[Press]) -> bool:
    """Whether numbers stand there in exponent form, which no line profile reads."""
    return all(re.search(rb"[0-9][eE][+-]?[0-9]", p.data) for p in presses)


def _places(
    burst: Sequence[str], shown: Decimal, *, is_padded: bool
) -> Iterator[tuple[Place, tuple[int, int, int]]]:
    seen = set()
    for index, line in enumerate(burst):
        for point in ".,":
            for start, stop in _spans(line, shown, point):
                style = Style(point, is_padded)
                place = (style, shape(line[:start], style), shape(line[stop:], style))
                is_whole = line[start:stop].strip(" +-").isdecimal()
                if is_whole and point != _point_beside(line, start, stop):
                    continue
                if (index, start, stop) not in seen or point == ".":
                    seen.add((index, start, stop))
                    yield place, (index, start, stop)


def _point_beside(line: str, start: int, stop: int) -> str:
    """The decimal sign of the other numbers of a line whose own number has none.

    A comma that stands between digits everywhere, and nowhere beside the number, parts no fields.
    """
    beside = line[max(0, start - 1) : start] + line[stop : stop + 1]
    is_decimal = all(re.fullmatch("[0-9],[0-9]", near) for near in re.findall(".?,.?", line))
    return "," if "," in line and "," not in beside and is_decimal else "."


def _spans(line: str, shown: Decimal, point: str) -> Iterator[tuple[int, int]]:
    dot = re.escape(point)
    for found in re.finditer(rf"[0-9]+(?:{dot}[0-9]+)?|(?<![0-9]){dot}[0-9]+", line):
        start, stop = found.span()
        if _EXPONENT.match(line, stop):
            continue
        # A second decimal sign: no number, but a version or a date.
        if line[stop : stop + 1] == point and line[stop + 1 : stop + 2].isdecimal():
            continue
        if start and line[start - 1] == point and start > 1 and line[start - 2].isdecimal():
            continue
        value = Decimal(found[0].replace(",", "."))
        sign = line[start - 1] if start else ""
        if sign and sign in "+-":
            signed = -value if sign == "-" else value
            if signed == shown:
                yield _padded(line, start - 1), stop
                continue
        if value == shown:
            yield _padded(line, start), stop


def _padded(line: str, start: int) -> int:
    while start and line[start - 1] == " ":
        start -= 1
    return start


def _explain(
    place: Place,
    spans: Sequence[tuple[int, int, int]],
    bursts: Sequence[Sequence[str]],
    kind: Quantity,
) -> Line | None:
    style = place[0]
    bodies = [burst[index] for burst, (index, _, _) in zip(bursts, spans, strict=True)]
    before = columns_of([b[:start] for b, (_, start, _) in zip(bodies, spans, strict=True)], style)
    behind = columns_of([b[stop:] for b, (_, _, stop) in zip(bodies, spans, strict=True)], style)
    values = [b[start:stop] for b, (_, start, stop) in zip(bodies, spans, strict=True)]
    if before is None or behind is None:
        return None
    parts = Parts(before, values, behind, style.point, kind)
    if kind is Quantity.GLOSS and not parts.channels:
        for angled in _angled(before, values, behind, style.point, len(bursts[0])):
            if _are_angles(angled, bursts):
                parts = angled
                break
    if parts.pattern is None or len(parts.pattern) > MOST_PATTERN:
        return None
    return Line(
        parts.pattern,
        style.point,
        parts.unit_token,
        unit_of(parts.unit_token, kind) or "",
        parts.has_count,
        parts.channels,
        NONE_PROVEN,
        bodies[0],
        tuple(c.texts[0] for c in before),
        tuple(c.texts[0] for c in behind),
        parts.evident_angle,
        parts.likely_angle,
        0,
        spans[0][0],
    )


def _angled(
    before: list[Column], values: list[str], behind: list[Column], point: str, most: int
) -> Iterator[Parts]:
    """Patterns in which one place, constant so far, says the geometry of its line."""
    if most < 2:
        return
    columns = [*before, Column("value", tuple(values)), *behind]
    for place, column in enumerate(columns):
        if {text.strip(" ") for text in column.texts} <= set(ANGLES) and is_constant(column.texts):
            yield Parts(before, values, behind, point, Quantity.GLOSS, (place, ANGLES))


def _are_angles(parts: Parts, bursts: Sequence[Sequence[str]]) -> bool:
    """Whether every press has a line for each of several geometries, and the same ones."""
    seen = set()
    for burst in bursts:
        found = [re.fullmatch(parts.pattern or "", line) for line in burst]
        seen.add(tuple(one["geometry"] for one in found if one is not None))
    (here, *others) = seen
    return not others and len(here) > 1 and len(set(here)) == len(here)


def _body(line: str, proven: Proven) -> str:
    """A line without its checksum and what stands before that."""
    likely = proven.likely
    if not isinstance(likely, TextProof):
        return line
    cut = len(line) - len(likely.after) - CHECKSUMS[likely.kind].width_bits // 4
    return line[:cut] if line[max(cut, 0) :].startswith(likely.after) else line


def _tail_pattern(proven: Proven) -> str:
    """The pattern for a checksum of which it is not known how it is made."""
    likely = proven.likely
    if proven.proof is not None or not isinstance(likely, TextProof):
        return ""
    return f"{literal(likely.after)}[0-9A-Fa-f]{{{CHECKSUMS[likely.kind].width_bits // 4}}}"
