"""Learning a meter that sends text: which number of which line is the one on the display.

Gives every place in which the displayed numbers stand, each as the line profile for it. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import NamedTuple

from acquire.learn.beside.against import in_line
from acquire.learn.beside.angledlines import angled, angles_in
from acquire.learn.beside.angles import Angles, Changing, geometries_at
from acquire.learn.beside.bandtokens import Banded, banded
from acquire.learn.beside.burst import burst_of
from acquire.learn.beside.codes import codes_beside, codes_of
from acquire.learn.beside.glued import moving_anyway, open_two, taken_apart
from acquire.learn.beside.parts import AGAIN, Parts
from acquire.learn.beside.several import (
    several_angles,
    several_bands,
    several_in_lines,
    several_labels,
)
from acquire.learn.beside.unexplained import unexplained
from acquire.learn.checksums.proven import NONE_PROVEN
from acquire.learn.checksums.textproof import Tail
from acquire.learn.lines.anglebeside import angle_beside, without
from acquire.learn.lines.endings import Endings, endings_of
from acquire.learn.lines.line import Line
from acquire.learn.lines.otherwise import Bodies, How, thousands, with_powers, without_point
from acquire.learn.lines.ownline import of_own_line
from acquire.learn.lines.places import Place, Span, has_decimal_comma
from acquire.learn.lines.places import places as places_of
from acquire.learn.pieces.column import Column, columns_of
from acquire.learn.pieces.doubts import Doubt, doubt_of, of_words
from acquire.learn.pieces.fixed import fixed_at
from acquire.learn.pieces.pieces import Style, shape
from acquire.learn.pieces.signs import PLUS_FIRST, SIGNS, Bare, Sign, bare, is_seen, open_sign
from acquire.learn.pieces.sofar import with_so_far
from acquire.learn.pieces.stamps import STAMP, stamped
from acquire.learn.pieces.still import (
    NO_MOVES,
    Moves,
    movable,
    moved,
    moving,
    names_at,
    with_numbers_apart,
)
from acquire.learn.pieces.unitlike import with_unit_apart
from acquire.learn.pieces.units import unit_of
from acquire.learn.pieces.widths import Widths, widths_of
from acquire.learn.presses.framing import encoding_of, has_empty, lines_of
from acquire.learn.presses.press import Press, decimals_of, tell_enough
from acquire.model import Quantity

MOST_PATTERN = 300
_OPEN_SUM = Doubt(
    "the last digits of the line may be a sum of it, and it is too early to tell: press a few more "
    "times on things that read differently"
)
LONGEST_LINE = 256
"""Bytes: no profile reads a longer one."""


class Told(NamedTuple):
    """What is known of all lines: of which kind the meter is, and by a person's word which numbers
    that were the same at every press move, whether a place that changed says the geometry, and the
    geometry or band of lines that say none."""

    kind: Quantity
    moves: Moves = NO_MOVES
    has_angles: bool = False
    channel: str | None = None


def lines(presses: Sequence[Press], end: bytes, told: Told) -> list[Line]:
    """Every explanation by lines that end so, and that are short enough for a profile."""
    bursts = bodies_of(presses, end)
    endings = endings_of(bursts)
    found = _with_endings(presses, bursts, endings, end, told)
    if not found and isinstance(endings.proven.likely, Tail):
        # The last digit of the number itself may be a sum of those before it by chance.
        bare = Endings(NONE_PROVEN, bursts, "", None)
        found = _with_endings(presses, bursts, bare, end, told)
    return found


def _with_endings(
    presses: Sequence[Press], bursts: list[list[str]], endings: Endings, end: bytes,
    told: Told,
) -> list[Line]:  # fmt: skip
    """Every explanation by lines without what proves them."""
    proven, bodies = endings.proven, endings.bodies
    # A comma that is both comes last: it reads single digits of all that stands beside the value.
    for parts_fields, is_padded in product((False, True), (True, False)):
        explained = _explained(
            presses, bodies, told, is_padded=is_padded, parts_fields=parts_fields
        )
        if explained:
            break
    else:
        explained = _signed(presses, bodies, told) or _explained(
            presses, bodies, told, is_padded=True, parts_fields=False, fills_behind=True
        )
    rounded = None
    shown = [press.shown for press in presses]

    def plain(presses: Sequence[Press], bodies: Bodies, how: How) -> list[Line]:
        return _explained(
            presses, bodies, told,
            is_padded=how.is_padded, parts_fields=False, is_rounded=how.is_rounded,
        )  # fmt: skip

    explained = explained or thousands(presses, bodies, plain)
    explained = explained or without_point(presses, bodies, plain)
    explained = explained or _explained(
        presses, bodies, told, is_padded=True, parts_fields=False, is_mixed=True
    )
    # Also where another place explains the presses: which of two it is only a press can tell.
    explained = [*explained, *with_powers(presses, bodies, plain)]
    if not explained and tell_enough(shown):
        rounded = decimals_of(shown)
        explained = _explained(
            presses, bodies, told, is_padded=True, parts_fields=False, is_rounded=True
        )
        explained = [
            e if _went_up(e, shown) else replace(e, doubt=e.doubt or _GLUED) for e in explained
        ]
    is_checked = proven.proof is not None
    angles = [angle_beside(bodies, e, told.kind) for e in explained]
    told_by = angles if told.has_angles else [None] * len(angles)
    is_long = any(len(line) > LONGEST_LINE for p in presses for line in lines_of(p.data, end))
    too_long = f"a press has lines longer than {LONGEST_LINE} bytes" if is_long else ""
    return [
        replace(
            e,
            proven=proven,
            rounded=rounded if rounded is not None else e.rounded,
            doubt=several_in_lines(
                without(bodies, says if told.has_angles else None), e.pattern, told.kind
            )
            or e.doubt
            or (None if endings.is_certain_of(e.index, bursts) else e.end_doubt)
            or (_OPEN_SUM if proven.is_likely_open else None),
            codes=e.codes + codes_beside(bodies, e.index, told.kind, told.moves),
            pattern=e.pattern + endings.of_line(e.index),
            example=bursts[0][e.index],
            channels=by.angles if by is not None else e.channels,
            angled=says.texts if says is not None and by is None else e.angled,
            has_empty=any(has_empty(p.data, end) for p in presses),
            widths=_widths(e, bursts, bodies, endings.of_line(e.index)),
        ).of_press(
            too_long
            or burst_of(
                e.pattern,
                bursts,
                bodies,
                e.point,
                endings.pattern,
                is_checked=is_checked,
                heard=[press.heard for press in presses],
                moves=told.moves,
                values=e.values,
                channel=told.channel,
                angle_line=by.line if by is not None else None,
            )
        )
        for e, says, by in zip(explained, angles, told_by, strict=True)
        if len(e.pattern) + len(endings.pattern) <= MOST_PATTERN
    ]


def bodies_of(presses: Sequence[Press], end: bytes) -> list[list[str]]:
    """The lines of each press that are short enough for a profile."""
    code = encoding_of([press.data for press in presses])
    return [
        [line.decode(code) for line in lines_of(p.data, end) if len(line) <= LONGEST_LINE]
        for p in presses
    ]


_GLUED = Doubt(
    "the number has more digits than the display shows, and no press was rounded up: the last ones "
    "may be a word on the press glued to it. Press on something whose last digits are rounded up"
)


def _went_up(line: Line, shown: Sequence[Decimal]) -> bool:
    """Whether some press showed more than it sent, which digits glued to a number never do."""
    return any(
        abs(Decimal(text.strip(" ").replace(",", "."))) < abs(value)
        for text, value in zip(line.values, shown, strict=True)
    )


def _widths(
    line: Line, bursts: Sequence[Sequence[str]], bodies: Sequence[Sequence[str]], ending: str
) -> Widths:
    """The widths of lines as the pattern with this ending is held against them."""
    texts = [one for burst in (bursts if ending else bodies) for one in burst]
    return widths_of(line.pattern + ending, texts)


def _explained(
    presses: Sequence[Press], bodies: Sequence[Sequence[str]], told: Told, *,
    is_padded: bool, parts_fields: bool, fills_behind: bool = False, is_rounded: bool = False,
    is_mixed: bool = False,
) -> list[Line]:  # fmt: skip
    places = None
    found: list[dict[Place, dict[int, Span]]] = []
    has_comma = has_decimal_comma(bodies, [press.shown for press in presses])
    for burst, press in zip(bodies, presses, strict=True):
        here: dict[Place, dict[int, Span]] = {}
        for place, span in places_of(
            burst,
            press.shown,
            is_padded=is_padded,
            parts_fields=parts_fields,
            fills_behind=fills_behind,
            is_rounded=is_rounded,
            is_mixed=is_mixed,
            has_comma=has_comma,
        ):
            here.setdefault(place, {})[span[0]] = span
        found.append(here)
        places = set(here) if places is None else places & set(here)
    ways = {place: of_own_line([here[place] for here in found]) for place in sorted(places or ())}
    if not is_rounded and (twice := _twice(ways, bodies, told, presses)):
        return twice
    return _unlike(
        _explain(place, spans, bodies, told, presses)
        for place, each in ways.items()
        for spans in each
    )


def _unlike(explained: Iterable[Line | None]) -> list[Line]:
    """The explanations, and of those with one pattern the first."""
    found: dict[str, Line] = {}
    for one in explained:
        if one is not None:
            found.setdefault(one.pattern, one)
    return list(found.values())


def _signed(presses: Sequence[Press], bodies: Sequence[Sequence[str]], told: Told) -> list[Line]:
    """Lines whose numbers have their sign elsewhere than right before them."""
    shown = [press.shown for press in presses]
    # Where none was below zero only a plus says that a sign stands there, and which one may be.
    signs = SIGNS if min(shown) < 0 else (PLUS_FIRST,)
    for sign, point, is_padded in product(signs, ".,", (True, False)):
        style = Style(point, is_padded)
        found: list[dict[Place, dict[int, tuple[int, Bare]]]] = []
        for burst, press in zip(bodies, presses, strict=True):
            found.append({})
            for index, line in enumerate(burst):
                for one in bare(line, press.shown, point, sign):
                    before, behind = one.line[: one.start], one.line[one.stop :]
                    place = style, shape(before, style), shape(behind, style)
                    found[-1].setdefault(place, {})[index] = index, one
        ways = [
            (place, way)
            for place in sorted(set(found[0]).intersection(*found[1:]))
            for way in of_own_line([here[place] for here in found])
        ]
        explained = []
        for place, way in ways:
            spans = [(index, one.start, one.stop) for index, one in way]
            texts = [list(burst) for burst in bodies]
            for burst, (index, one) in zip(texts, way, strict=True):
                burst[index] = one.line
            explained.append(_explain(place, spans, texts, told, presses, sign=sign))
        is_known = is_seen(sign, shown) or sign == PLUS_FIRST
        doubt = None if is_known else open_sign(sign, shown)
        if lines_ := _unlike(explained):
            return [replace(one, sign=sign, doubt=one.doubt or doubt) for one in lines_]
    return []


def _twice(
    ways: Mapping[Place, Sequence[Sequence[Span]]], bodies: Sequence[Sequence[str]],
    told: Told, presses: Sequence[Press],
) -> list[Line]:  # fmt: skip
    """Lines in which the number stands at two places: the second one is held to the first."""
    if len(ways) != 2 or len({place[0] for place in ways}) > 1:
        return []
    explained: list[Line | None] = []
    for two in zip(*ways.values(), strict=False):
        (first, spans), (_, behind) = sorted(zip(ways, two, strict=True), key=lambda one: one[1][0])
        if any(a[0] != b[0] or a[2] > b[1] for a, b in zip(spans, behind, strict=True)):
            return []
        again = [(b[1], b[2]) for b in behind]
        explained.append(_explain(first, spans, bodies, told, presses, again))
    return _unlike(explained)


def _explain(
    place: Place,
    spans: Sequence[Span],
    bursts: Sequence[Sequence[str]],
    told: Told,
    presses: Sequence[Press],
    again: Sequence[tuple[int, int]] = (),
    sign: Sign | None = None,
) -> Line | None:
    """The line with its number at a place; `again` is where in it the number stands once more."""
    style, kind, moves = place[0], told.kind, told.moves
    bodies = [burst[index] for burst, (index, _, _) in zip(bursts, spans, strict=True)]
    before = columns_of([b[:start] for b, (_, start, _) in zip(bodies, spans, strict=True)], style)
    behind = _behind(bodies, [stop for _, _, stop in spans], again, style)
    behind = None if behind is None else with_unit_apart(behind)
    values = [b[start:stop] for b, (_, start, stop) in zip(bodies, spans, strict=True)]
    if before is None or behind is None:
        return None
    shown = [press.shown for press in presses]
    value = Column("value", tuple(values))
    heard = [press.heard for press in presses]
    all_columns = [*before, value, *behind]
    bands = banded(all_columns) if kind is Quantity.TRANSMITTANCE else Banded(all_columns)
    found = stamped(bands.columns, heard)
    columns = with_so_far(found.columns, values, style)
    loose = moving_anyway(columns, style.point)
    columns = with_numbers_apart(taken_apart(columns, style.point, moves), style)
    evident = Angles(columns, columns.index(value)).evident if kind is Quantity.GLOSS else ""
    fixed = fixed_at(columns, told.channel or evident)
    geometries = geometries_at(columns, style.point) if kind is Quantity.GLOSS else frozenset()
    columns = moving(columns, moves, style, geometries | fixed)
    at = columns.index(value)
    before, behind = columns[:at], columns[at + 1 :]
    parts = Parts(before, values, behind, style.point, kind, sign=sign)
    several = several_angles(columns) if kind is Quantity.GLOSS and not parts.channels else None
    says = Angles(columns, at).of_a_press() if several is not None else None
    if says is not None and told.has_angles:
        several, parts = None, Parts(before, values, behind, style.point, kind, says, sign)
    if kind is Quantity.GLOSS and not parts.channels:
        for at, one in angled(before, values, behind, style.point, len(bursts[0])):
            seen = angles_in(one, bursts)
            if seen:
                parts = Parts(before, values, behind, style.point, kind, Changing(at, seen))
                break
    is_banded = kind is Quantity.TRANSMITTANCE and not bands.tokens
    labels = several_labels(columns, told.channel) if is_banded else None
    if parts.pattern is None or len(parts.pattern) > MOST_PATTERN:
        return None
    sent = in_line(before, value, behind, parts, kind)._replace(tokens=bands.tokens)
    return Line(
        parts.pattern,
        style.point,
        tuple((token, unit_of(token, kind) or "") for token in parts.unit_tokens),
        parts.strange_units,
        parts.counted is not None,
        parts.counted is not None and not parts.counted.is_proven,
        parts.is_open or found.is_open,
        len(parts.alone),
        parts.has_again,
        parts.channels or bands.tokens,
        NONE_PROVEN,
        bodies[0],
        tuple(c.texts[0] for c in before),
        tuple(c.texts[0] for c in behind),
        parts.evident_angle,
        parts.likely_angle,
        "",
        spans[0][0],
        several or several_bands(bands.others) or labels
        or doubt_of(values, [b[stop:] for b, (_, _, stop) in zip(bodies, spans, strict=True)],
                    shown, parts.free) or found.doubt or of_words(parts.words_apart)
        or open_two(columns, style.point),
        end_doubt=parts.ending and unexplained(parts.ending, shown, heard),
        stamps=tuple((c.texts[0].strip(" "), c.what) for c in found.columns if c.kind == STAMP),
        likely_stamps=found.likely, says=sent,
        moved=moved(columns), loose=loose, sign=parts.sign, has_zeros=parts.has_zeros,
        movable=tuple(one for one in movable(columns, fixed) if repr(one) in parts.still),
        fixed=tuple(one for one in names_at(columns, sorted(fixed)) if repr(one) in parts.still),
        still=parts.still, may_touch=parts.may_touch, values=tuple(values), free=parts.free,
        left_out=parts.left_out, codes=codes_of(columns, kind), angle_codes=parts.angle_codes,
        angled=says.texts(columns) if says is not None and several is not None else (),
    )  # fmt: skip


def _behind(
    bodies: Sequence[str], stops: Sequence[int], again: Sequence[tuple[int, int]], style: Style
) -> list[Column] | None:
    """What stands behind the value, with the value once more in a column of its own."""
    if not again:
        return columns_of([b[stop:] for b, stop in zip(bodies, stops, strict=True)], style)
    pairs = list(zip(bodies, again, strict=True))
    between = columns_of(
        [b[stop:start] for (b, (start, _)), stop in zip(pairs, stops, strict=True)], style
    )
    behind = columns_of([b[end:] for b, (_, end) in pairs], style)
    if between is None or behind is None:
        return None
    return [*between, Column(AGAIN, tuple(b[start:end] for b, (start, end) in pairs)), *behind]
