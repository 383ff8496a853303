"""Learning a meter that sends binary frames of one length. Pure.

A press is a frame, or the same frame several times. What was the same in every press is held to be
so (`acquire.learn.numbers.held`): another bit there may say that the value means something else.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from acquire.learn.beside.anglebyte import AngleByte, angle_byte
from acquire.learn.checksums.proofs import binary, digits_at_end, summed, summed_digits
from acquire.learn.checksums.proven import Proven
from acquire.learn.frames.atzero import AtZero, zeros_apart
from acquire.learn.lines.scaled import has_other_point
from acquire.learn.numbers.digits import Digits, Room, digits_of, narrowed, room_of
from acquire.learn.numbers.held import Held, Run, Said, held, runs, unseen_decimals
from acquire.learn.numbers.judge import Judged, judge
from acquire.learn.numbers.limits import Limits, of_number
from acquire.learn.numbers.number import NumberAt
from acquire.learn.numbers.search import numbers
from acquire.learn.numbers.twins import Twin, twin_of, without_twins
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.presses.press import LEAST_PRESSES, About, Press
from acquire.model import Quantity
from acquire.wire import Proof

LONGEST_FRAME = 256
_LONGEST_MARKER = 8
_TEN = 10
_FAR = 10
"""So many times what a display usually shows: mirrors read 2000 GU, a force gauge goes far up."""


@dataclass(frozen=True, slots=True)
class Frame:
    """An explanation that is sure of its number: the layout of all frames.

    `unseen` are codes of decimals that no press had; `held` is what never changed; `summed` is the
    place of a sum that no profile can name; `digits` says how they are written, where it has any,
    and `room` for which of them there is room. `display` is what it may show for all that is known.
    `angles` is the byte that says the geometry of each frame, `doubt` why none is sure. `at_zero`
    is what goes for a number of 0 alone, where presses of it had something beside it that no other
    had; of that `zero_runs`.
    """

    length: int
    number: NumberAt
    limits: Limits
    start: bytes
    end: bytes
    runs: tuple[Run, ...]
    proven: Proven
    held: Held
    unseen: tuple[Said, ...]
    example: bytes
    repeats: int
    summed: frozenset[int] = frozenset()
    digits: Digits | None = None
    room: Room | None = None
    display: Limits | None = None
    angles: AngleByte | None = None
    doubt: Doubt | None = None
    at_zero: AtZero | None = None
    zero_runs: tuple[Run, ...] = ()

    def has_unknown(self, data: Sequence[bytes]) -> bool:
        """Whether a byte beside the number changed and is free to."""
        counted = self.held.counted
        own = {*self.number.places, *self.held.values, *self.held.copies, *self.held.counters}
        own |= {*self.held.likely, *(at for at, _, _ in self.held.signs)}
        own |= set(counted.places) if counted is not None else set()
        own |= set(self.held.twin.places) if self.held.twin is not None else set()
        own |= self.known_places
        return any(
            len({frame[at] for frame in data}) > 1 and self.held.masks[at] < 0xFF
            for at in range(self.length)
            if at not in own
        )

    def has_strange_end(self, data: Sequence[bytes]) -> bool:
        """Whether hexadecimal digits near the end changed, and nothing says what they are."""
        kept = self.held
        known = {*self.number.places, *kept.counters, *kept.copies, *kept.likely}
        known |= self.proof_places | set(kept.counted.places if kept.counted is not None else ())
        known |= set(kept.twin.places) if kept.twin is not None else set()
        return any(
            len(set(texts)) >= LEAST_PRESSES
            and not _is_field(places.start, texts, data)
            # What differs beside the same bytes is no sum of them.
            and len({frame[: places.start] for frame in data}) == len(set(data))
            for places, texts in digits_at_end(data, frozenset(known))
        )

    def alone(self, data: Sequence[bytes]) -> int:
        """How many presses had something beside the number that no other had, and so are noise
        without themselves: about as large a share of presses to come is (Good and Turing 1953).
        """
        kept, found = self.held, set()
        own = {*self.number.places, *kept.copies, *kept.counters, *kept.likely}
        own |= set(kept.counted.places) if kept.counted is not None else set()
        own |= set(kept.twin.places) if kept.twin is not None else set()
        own |= {at for at, _, _ in kept.signs} | self.known_places
        for place in set(range(self.length)) - own:
            seen = [frame[place] for frame in data]
            if place in kept.values:
                found |= {i for i, one in enumerate(seen) if seen.count(one) == 1}
                continue
            for bit in (1 << n for n in range(8)):
                ways = [
                    {i for i, one in enumerate(seen) if bool(one & bit) is way}
                    for way in (True, False)
                ]
                found |= {i for way in ways if len(way) == 1 for i in way}
        return len(found)

    def fewer_digits(self, least: Decimal) -> Decimal | None:
        """Below which number one has fewer digits, where nobody knows what fills it up then.

        `least` is the smallest that was shown.
        """
        room = self.room
        is_open = room is not None and not room.is_filled and least >= _TEN
        return Decimal(_TEN ** least.adjusted()) if is_open else None

    @property
    def proof_places(self) -> set[int]:
        """The bytes of the checksum, where it is known, or that are a sum of those before."""
        proof = self.proven.proof
        if not isinstance(proof, Proof):
            return set(self.summed)
        return set(range(proof.at, proof.at + proof.size))

    @property
    def known_places(self) -> frozenset[int]:
        """Those of the checksum, and of the geometry where the frame says it."""
        angles = self.angles.places if self.angles is not None else frozenset()
        return frozenset(self.proof_places | angles)

    def open_up_to(self, place: int) -> int:
        """The largest number that a byte may be beside its bits that are held."""
        return self.example[place] | ~self.held.masks[place] & 0xFF


@dataclass(frozen=True, slots=True)
class Frames:
    """What is known of the frames: `frame` is None where that is not sure."""

    judged: Judged
    frame: Frame | None
    varies: tuple[int, ...]


_SET_EACH_TIME = Doubt(
    "the top bit of the number may be its sign, and was set at every press: press once more so "
    "that the number is above zero",
    tell_above=Decimal(0),
)
_SLOW = 5
_NO_END = re.compile(rb"[0-9A-Za-z.,:=]")
"""Behind such a sign stands no sum, but the rest of a number or what a label names."""


def _is_field(at: int, texts: Sequence[str], data: Sequence[bytes]) -> bool:
    """Whether digits are the rest of a field, or a number that moves slowly."""
    if any(_NO_END.match(frame, at - 1) for frame in data):
        return True
    are_numbers = all(text.isdecimal() for text in texts)
    return are_numbers and all(abs(int(b) - int(a)) <= _SLOW for a, b in pairwise(texts))


def one_of(data: bytes) -> tuple[bytes, int]:
    """The frame of a press and how often it stands there."""
    for size in range(2, len(data) // 2 + 1):
        if len(data) % size == 0 and data == data[:size] * (len(data) // size):
            return data[:size], len(data) // size
    return data, 1


def ones_of(presses: Sequence[Press]) -> list[tuple[bytes, int]]:
    """The same of each press. A frame of equal halves in some presses only is no repeat."""
    ones = [one_of(press.data) for press in presses]
    is_alike = len({len(data) for data, _ in ones}) == 1
    return ones if is_alike else [(press.data, 1) for press in presses]


def frames(presses: Sequence[Press], about: About) -> Frames | str:
    """What is learned, or in plain words why these are no frames of one length."""
    ones = ones_of(presses)
    lengths = sorted({len(data) for data, _ in ones})
    if len(lengths) > 1:
        return f"presses of {', '.join(map(str, lengths[:-1]))} and {lengths[-1]} bytes"
    if not 2 <= lengths[0] <= LONGEST_FRAME:
        return f"presses of {lengths[0]} bytes"
    data = [one for one, _ in ones]
    shown = [press.shown for press in presses]
    fits = [one for one in numbers(data, shown) if not has_other_point(one, data, shown)]
    found, shift = without_twins(fits, data)
    if not found:
        return Frames(Judged(None, ()), None, _varying(data))
    if min(len(presses), len(set(shown))) < LEAST_PRESSES:
        # Whatever there is left, another press is needed first.
        return Frames(Judged(None, tuple(found)), None, _varying(data))
    judged = judge(
        found,
        data,
        about.reach(shown),
        shown,
        lambda number: of_number(number, about, shown, is_proven=False),
    )
    if judged.best is None:
        return Frames(judged, None, _varying(data))
    best = narrowed(judged.best, data)
    limits = of_number(best, about, shown)
    display, room = limits, room_of(best, data)
    limits = limits.within(room, shown, is_said=about.most is not None)
    limits = limits.in_places(None if room is None else room.shown_most, about)
    repeats = max(n for _, n in ones)
    claimed = _claimed(judged.rivals, about, shown)
    twin = twin_of(best, shift, data) if shift else None
    frame = _frame(
        best, data, limits, repeats, shown=shown, claimed=claimed, twin=twin,
        may_be_below=_may_be_below(about, shown), kind=about.kind, counts_to=about.counts_to,
    )  # fmt: skip
    if best.is_magnitude and max(shown) <= 0:
        frame = replace(frame, doubt=_SET_EACH_TIME)
    frame = replace(frame, room=room, display=display)
    return Frames(judged, frame, _varying(data))


def _claimed(rivals: Sequence[NumberAt], about: About, shown: Sequence[Decimal]) -> frozenset[int]:
    """The bytes that are the number's own by some explanation that is left.

    As far up as the display may go: where nobody said how far, far beyond what is usual.
    """
    _, high = about.reach(shown)
    far = high if about.most is not None else _FAR * high
    return frozenset(place for rival in rivals for place in rival.needed(far))


def _may_be_below(about: About, shown: Sequence[Decimal]) -> bool:
    """Whether numbers below zero are usual: forces both ways, or somebody said so.

    Elsewhere one is a leap of the count where its sign is taken for a part of that, and never
    counts.
    """
    least, _ = about.reach(shown)
    return least < 0 and (about.kind is Quantity.FORCE or about.least is not None)


def _free_values(kept: Held, number: NumberAt) -> dict[int, tuple[int, ...]]:
    """The few values of bytes that are no part of the number."""
    own = {*number.places, *({number.minus.offset} if number.minus is not None else ())}
    return {at: seen for at, seen in kept.values.items() if at not in own}


def _varying(data: Sequence[bytes]) -> tuple[int, ...]:
    return tuple(i for i, seen in enumerate(zip(*data, strict=True)) if len(set(seen)) > 1)


def _frame(
    best: NumberAt, data: Sequence[bytes], limits: Limits, repeats: int, *,
    shown: Sequence[Decimal], claimed: frozenset[int], twin: Twin | None, may_be_below: bool,
    kind: Quantity, counts_to: int | None,
) -> Frame:  # fmt: skip
    length = len(data[0])
    copied = frozenset(twin.places if twin is not None else ())
    proven = binary(data, best.places | copied)
    proof: frozenset[int] = frozenset()
    if isinstance(proven.proof, Proof):
        proof = frozenset(range(proven.proof.at, proven.proof.at + proven.proof.size))
    sums = frozenset[int]()
    if not proof:
        own = best.places | copied
        sums = summed_digits(data, own) or summed(data, own)
    by_bytes = angle_byte(data, best.places | copied | proof | sums, kind)
    angles = by_bytes if isinstance(by_bytes, AngleByte) else None
    told = angles.places if angles is not None else frozenset[int]()
    kept = held(
        data, best, proof, limits.most, signed=min(shown) < 0, claimed=claimed | copied, twin=twin,
        may_be_below=may_be_below, has_below=limits.least < 0, summed=sums | told,
    )  # fmt: skip
    if kept.counted is not None:
        kept = kept._replace(counted=kept.counted.known_to(counts_to))
    if angles is not None:
        angles = angles.with_values(data, _free_values(kept, best))
    fixed = [mask == 0xFF and at not in best.places for at, mask in enumerate(kept.masks)]
    first = next((i for i, is_fixed in enumerate(fixed) if not is_fixed), length)
    start = min(first, _LONGEST_MARKER)
    last = next((i for i, is_fixed in enumerate(reversed(fixed)) if not is_fixed), length)
    end = min(last, _LONGEST_MARKER)
    apart = zeros_apart(kept, best, data, shown, proof | sums | told)
    example, at_zero = apart.example, apart.at_zero

    def runs_of(one: Held) -> tuple[Run, ...]:
        return tuple(runs(one.masks, example, start, length - end, proof))

    return Frame(
        length,
        best,
        limits,
        example[:start],
        example[length - end :],
        runs_of(apart.held),
        proven,
        apart.held,
        unseen_decimals(best, data),
        example,
        repeats,
        sums,
        digits_of(best, data),
        angles=angles,
        doubt=by_bytes if isinstance(by_bytes, Doubt) else None,
        at_zero=at_zero,
        zero_runs=runs_of(at_zero.held) if at_zero is not None else (),
    )
