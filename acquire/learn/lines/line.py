"""A line of text with the number of the display in it: an explanation of what a meter sends."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from acquire.learn.beside.against import NOTHING, Says
from acquire.learn.beside.burst import Burst
from acquire.learn.checksums.proven import Proven
from acquire.learn.numbers.leadzeros import shown_most
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.signs import Sign
from acquire.learn.pieces.still import Moves, names_of
from acquire.learn.pieces.units import unit_of
from acquire.learn.pieces.widths import NO_WIDTHS, Widths
from acquire.model import Quantity


@dataclass(frozen=True, slots=True)
class Line:
    """An explanation: lines of this pattern bear the displayed value.

    `units` are the units as sent, each with ours, none if no line bears one; where they are several
    of which not all are known, `strange_units`; `channels` are tokens of geometries that are
    evident: in front of each value of the line, or at a place of their own. `evident_angle` is one
    that the line names, `likely_angle` a number that may be one. `is_count_open`: what is used as
    the count may be a number that went up by chance. `is_open`: more presses would tell what some
    digits are. `alone`: so many presses had a word that no other had. `has_again`: the number
    stands in it twice; `has_empty`: a press had empty lines. `burst` is what a press consists of,
    or why that cannot be said; `end_doubt` is that of digits at its end, which may be a checksum
    where none stands behind them; `widths` are those to which its numbers are filled up. `stamps`
    are dates and times of day, each with its pattern, `likely_stamps` those that only look so.
    `sign` is how the sign of the number is written where it is not right before it. `says` is what
    it says of units, geometries and bands, whatever was said. `still` are numbers beside it, and
    digits of them, that never changed; of some a person may say that they can, `movable`, or has,
    `moved`; `fixed` are the geometry or limits of the band and never do; `loose` stood still only
    before the point of a number that moves. `may_touch`: a longer number may touch digits before
    it. `rounded`: to so many decimals the display rounds its number, and None where it shows all of
    it. `has_zeros`: zeros may fill up its number, for all that presses have shown. `thousands` is
    the sign between thousands, empty where there is none. `implied_decimals`: so many digits of its
    number stand behind a point that is not sent. `power` is the number with its power of ten, empty
    where it has none; `is_power_open`: no press had another power than zero; `lost_from`: so large,
    its digits do not reach the last one of the display, None where they do. `values` are the texts
    of its number, press by press. `left_out` are numbers behind what may be a geometry each, and
    need not be. `codes` are words that may be those of several settings, `free` those that may be
    any, press by press. `angled` are texts of its only place, press by press, that may say the
    geometry of each press, and need not. `angle_codes` are words that went one to one
    with the geometry, each with its own.
    """

    pattern: str
    point: str
    units: tuple[tuple[str, str], ...]
    strange_units: tuple[str, ...]
    has_count: bool
    is_count_open: bool
    is_open: bool
    alone: int
    has_again: bool
    channels: tuple[str, ...]
    proven: Proven
    example: str
    before: tuple[str, ...]
    behind: tuple[str, ...]
    evident_angle: str
    likely_angle: str
    burst: Burst | str
    index: int
    doubt: Doubt | None = None
    end_doubt: Doubt | None = None
    has_empty: bool = False
    widths: Widths = NO_WIDTHS
    stamps: tuple[tuple[str, str], ...] = ()
    likely_stamps: tuple[str, ...] = ()
    sign: Sign | None = None
    says: Says = NOTHING
    still: tuple[str, ...] = ()
    movable: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    may_touch: bool = False
    rounded: int | None = None
    thousands: str = ""
    implied_decimals: int = 0
    power: str = ""
    is_power_open: bool = False
    lost_from: Decimal | None = None
    has_zeros: bool = True
    values: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    codes: tuple[tuple[str, ...], ...] = ()
    free: tuple[tuple[str, ...], ...] = ()
    angled: tuple[str, ...] = ()
    angle_codes: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        return f"the number of {self.example!r} {self.where}"

    def of_press(self, burst: Burst | str) -> Line:
        """The same with what its press consists of, and with what counts or moves in that."""
        if isinstance(burst, str):
            return replace(self, burst=burst)
        counted = burst.counted if not self.has_count else None
        known = Counter(self.movable) + Counter(self.moved)
        for one in burst.beside:
            known += Counter(one.movable) + Counter(one.moved)
        # Of two that are the same number nobody could say which is meant.
        mine = [
            tuple(text for text in texts if known[text] == 1)
            for texts in (
                [*self.movable, *(text for one in burst.beside for text in one.movable)],
                [*self.moved, *(text for one in burst.beside for text in one.moved)],
            )
        ]
        return replace(
            self, burst=burst, fixed=(*self.fixed, *(one for b in burst.beside for one in b.fixed)),
            movable=mine[0], moved=mine[1],
            has_count=self.has_count or counted is not None,
            is_count_open=self.is_count_open or (counted is not None and not counted.is_proven),
        )  # fmt: skip

    def shown_most(self, sent: Sequence[Decimal]) -> Decimal | None:
        """The number at which zeros would end that stood before all numbers; None where none did.

        `sent` are all that presses sent, also for other geometries.
        """
        texts = [text.replace(self.thousands, "") for text in self.values]
        return None if self.power else shown_most(texts, self.point, self.implied_decimals, sent)

    def not_free(self, moves: Moves) -> Moves:
        """Those of numbers that were said to move that may be the geometry or the band.

        Of two numbers one may be meant that is none.
        """
        return (moves & names_of(self.fixed)) - names_of((*self.moved, *self.movable))

    def not_moved(self, moves: Moves) -> Moves:
        """Those of numbers that were said to move that are none of `moved`.

        What further presses showed to be a part of a time may be any, too, and so may a number
        with decimals that moved anyway.
        """
        times = [number for text, _ in self.stamps for number in re.findall("[0-9]+", text)]
        beside = self.burst.beside if isinstance(self.burst, Burst) else ()
        loose = [text for one in beside for text in one.loose]
        return moves - names_of((*self.moved, *times, *self.loose, *loose))

    def unit_ahead(self, kind: Quantity) -> str:
        """The unit of such a meter that stands right before its number; empty where none does."""
        return next((unit for w in self.says.ahead if (unit := unit_of(w, kind))), "")

    @property
    def where(self) -> str:
        """Between what the number stands."""
        before, behind = "".join(self.before), "".join(self.behind)
        if not before:
            return f"before {behind!r}" if behind else "alone in its line"
        return f"between {before!r} and {behind!r}" if behind else f"behind {before!r}"
