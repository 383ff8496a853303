"""What a person said of the meter that is learned, beforehand and when asked; each thing once.

Main thread.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from acquire.cli.questions import NO_UNIT, Questions
from acquire.errors import Misuse
from acquire.learn import (
    About,
    Against,
    Finding,
    Line,
    Outcome,
    Press,
    evident_kind,
    is_unit_sent,
)
from acquire.learn.profile.setting import WHAT
from acquire.model import MEASURED, Quantity
from acquire.units import units_of

_FINAL = ("strange", "setting")
"""What goes against the bytes, and no other answer of a person would mend."""
_LIMITS = {"least": ("least",), "most": ("most", "sure")}
"""The questions by which a limit is asked for."""
KINDS = tuple(kind.value for kind in MEASURED)


_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


def kind_of(unit: str | None) -> Quantity | None:
    """The kind of meter that alone gives its numbers in this unit."""
    found = [kind for kind in MEASURED if unit in units_of(kind)]
    return found[0] if len(found) == 1 else None


def _said_by(presses: Sequence[Press], unit: str | None) -> Quantity | None:
    """The kind that the bytes say; `unit` is what a person said. Raises `Misuse` if not its."""
    kind = evident_kind(presses)
    if kind is None or unit is None or unit in units_of(kind):
        return kind
    raise Misuse(
        "what was said of the meter goes against what it sends, and nothing is written",
        got=f"said: the unit is {unit} (--unit {unit}); sent: a unit of {kind.value}",
        wanted="what the bytes say, or nothing said where they say it",
        next_step="leave --unit out, for the bytes say it",
    )


def is_shown_in(press: Press) -> bool:
    """Whether the number that was shown stands in the bytes of its press as text."""
    found = _NUMBER.findall(press.data.decode("latin-1"))
    return abs(press.shown) in {Decimal(digits.replace(",", ".")) for digits in found}


@dataclass(frozen=True)
class Given:
    """What was said beforehand. None is what nobody said; `unit` is a name of the closed table, and
    `word` one of the bytes that stands for it; `bands` are such words with the band of each,
    `marks` such words that are no unit.
    `is_one_setting`: all presses were of one unit, and of one geometry or band. `has_angles`: what
    was several geometries at one place of lines says that of each press.
    `counts_to`: how far the meter counts its presses.
    """

    kind: Quantity | None = None
    unit: str | None = None
    channel: str | None = None
    least: Decimal | None = None
    most: Decimal | None = None
    line: Line | None = None
    moves: frozenset[str] = frozenset()
    word: str = ""
    is_one_setting: bool = False
    bands: tuple[tuple[str, str], ...] = ()
    marks: frozenset[str] = frozenset()
    has_angles: bool = False
    counts_to: int | None = None


class SaidOfMeter:
    """One meter. `questions` None: nobody is there, and all there is to say was said."""

    def __init__(
        self,
        given: Given,
        questions: Questions | None,
        tell: Callable[[Iterable[str]], None],
    ) -> None:
        self._given = self._options = given
        self._questions = questions
        self._tell = tell
        self._asked: set[str] = set()
        self._settled = 0

    def keep_to(self, value: Decimal) -> None:
        """Ask again for a limit that this number is beyond: what was pressed is never lost."""
        given = self._given
        if given.least is not None and value < given.least:
            words = f"{value} was shown, and {given.least} was said to be the least number."
            self._given = replace(
                given, least=self._asking().limit(words, "least", value, given.unit)
            )
        if given.most is not None and value > given.most:
            words = f"{value} was shown, and {given.most} was said to be the largest number."
            self._given = replace(
                given, most=self._asking().limit(words, "largest", value, given.unit)
            )

    def is_taken_back(self, against: Against | None) -> bool:
        """Whether an answer that goes against the bytes is asked for again: each one once."""
        if against is None or self._questions is None or against.part in _FINAL:
            return False
        if getattr(self._options, against.part) is not None or not self._is_new(against.said):
            return False
        self._tell([f"that cannot be: {against.said}, and {against.sent}"])
        if against.part in _LIMITS:
            given = self._given
            is_most = against.part == "most"
            self._given = replace(given, most=None) if is_most else replace(given, least=None)
            self._asked -= set(_LIMITS[against.part])
        elif against.part == "kind":
            self._given = replace(self._given, kind=None)
        elif against.part == "counts_to":
            self._given = replace(self._given, counts_to=None)
            self._asked.discard("count")
        elif against.part in ("unit", "word"):
            self._given = replace(self._given, unit=None, word="")
        else:
            self._given = replace(self._given, channel=None, bands=())
        return True

    def about(self, presses: Sequence[Press], line: Line, pause_s: float, again_s: float) -> About:
        """All that is known; what it measures is asked for. Raises `Misuse` if nobody says."""
        given = self._given
        kind = given.kind or _said_by(presses, given.unit) or kind_of(given.unit)
        if kind is None:
            if self._questions is None:
                # Where a unit stands in the bytes and no number that was shown, a number is wrong.
                sends_unit = any(is_unit_sent(press.data) for press in presses)
                if sends_unit and not all(map(is_shown_in, presses)):
                    raise Misuse(
                        "nobody said what the meter measures, and a number that was shown does not "
                        "stand in its bytes as text",
                        got=", ".join(str(press.shown) for press in presses),
                        wanted="what the display showed at each press, in their order",
                        next_step="look whether one was mistyped; or name --kind, if all are right",
                    )
                raise Misuse(
                    "nobody said what the meter measures",
                    got="the numbers in its bytes, and no unit of one kind of meter behind each"
                    if sends_unit
                    else "bytes without a unit that would tell",
                    wanted=", ".join(KINDS),
                    next_step="name it: --kind gloss",
                )
            kind = Quantity(self._asking().choice("What does it measure?", KINDS))
        self._given = replace(given, kind=kind)
        return About(
            kind, given.unit, given.channel, given.least, given.most, line, pause_s,
            again_s, given.moves, given.word,
            len(presses) if given.is_one_setting else self._settled, given.bands,
            given.marks, given.has_angles, given.counts_to,
        )  # fmt: skip

    def completed(self, about: About, found: Finding, presses: Sequence[Press]) -> About | None:
        """What a person can add, or None if there is nothing to add."""
        if self._questions is None:
            return None
        if found.outcome is Outcome.UNSAID:
            self._tell(["", *found.believed])
            if found.missing == "setting":
                return self._with_setting(about, found.likely, len(presses))
            if found.missing == "word":
                return self._with_word(about, found.likely)
            if found.missing == "unit":
                unit = self._asking().unit(about.kind)
                self._given = replace(self._given, unit=unit)
                return replace(about, unit=unit)
            if found.missing == "band" and found.likely:
                return self._with_band(about, found.likely)
            asking = self._asking()
            channel = asking.band() if found.missing == "band" else asking.geometry(found.likely)
            self._given = replace(self._given, channel=channel)
            return replace(about, channel=channel)
        if found.missing == "angles":
            return self._with_angles(about, found.likely)
        is_sure = found.outcome is Outcome.SURE or found.is_meagre
        below, above = found.tell_below, found.tell_above
        if not is_sure and found.outcome is not Outcome.MORE:
            return None
        given = [*(press.shown for press in presses), *found.sent]
        is_asked = found.is_sign_open or not is_sure
        # Above zero a press that reads less is wanted, and nothing to know of the display.
        may_ask = below is not None and below <= 0 and about.least is None
        if may_ask and is_asked and self._is_new("least"):
            least = self._asking().limit(
                f"Can the display go down to {below}?", "least", min(given), about.unit
            )
            if least is not None:
                self._given = replace(self._given, least=least)
                return replace(about, least=least)
        if above is not None and about.most is None and self._is_new("sure" if is_sure else "most"):
            words = f"Can the display go up to {above}?"
            if is_sure:
                words = f"Numbers from {above} on would be noise, since none was shown."
            most = self._asking().limit(words, "largest", max(given), about.unit)
            if most is not None:
                self._given = replace(self._given, most=most)
                return replace(about, most=most)
        if not is_sure:
            return None
        return self._counting(about, found) or self._moving(about, found)

    def _with_word(self, about: About, word: str) -> About | None:
        """The unit that goes with a word of the bytes, or that it is no unit.

        None if the person leaves that open.
        """
        unit = self._asking().unit_with(word, about.kind)
        if unit is None:
            return None
        if unit == NO_UNIT:
            marks = about.marks | {word}
            self._given = replace(self._given, marks=marks)
            return replace(about, marks=marks)
        self._given = replace(self._given, unit=unit, word=word)
        return replace(about, unit=unit, word=word)

    def _with_setting(self, about: About, why: str, presses: int) -> About | None:
        """That all presses so far were of one setting; None if they were not, or nobody knows."""
        what = WHAT[about.kind]
        if not self._asking().is_yes(
            f"{why[:1].upper()}{why[1:]}. Was the meter set to one and the same {what} at all "
            "presses? y, or Enter if it was not, or if you do not know"
        ):
            return None
        self._settled = presses
        return replace(about, settled=presses)

    def _with_angles(self, about: About, seen: str) -> About | None:
        """That what changed beside the number is the geometry of each press; None else."""
        if not self._is_new("angles") or not self._asking().is_yes(
            f"Beside the number stood {seen}. Is that the geometry of each press? y, or Enter if "
            "it is not, or if you do not know"
        ):
            return None
        self._given = replace(self._given, has_angles=True)
        return replace(about, has_angles=True)

    def _with_band(self, about: About, word: str) -> About | None:
        """The band that a word of the bytes means; None if the person leaves that open."""
        band = self._asking().band_of(word)
        if band is None:
            return None
        bands = (*about.bands, (word, band))
        self._given = replace(self._given, bands=bands)
        return replace(about, bands=bands)

    def _counting(self, about: About, found: Finding) -> About | None:
        """How far a count of presses goes; None where that is known, or nobody knows it."""
        if found.counted_to is None or about.counts_to is not None or not self._is_new("count"):
            return None
        counts_to = self._asking().count(
            "The meter counts its presses. How far does it count, by its display or manual? A "
            f"check ends where the count passes {found.counted_to}"
        )
        if counts_to is None:
            return None
        self._given = replace(self._given, counts_to=counts_to)
        return replace(about, counts_to=counts_to)

    def _moving(self, about: About, found: Finding) -> About | None:
        """What a person says of numbers that stood still; None if that is nothing new."""
        new = [text for text in found.still if self._is_new(f"still {text}")]
        moves = {
            text
            for text in new
            if self._asking().is_yes(
                f"{text!r} was the same at every press. Can it be another number at a press that "
                "goes well, with the meter set as it is, such as a temperature, a battery or a "
                "time? y, or Enter if it cannot, or if you do not know"
            )
        }
        if not moves:
            return None
        self._given = replace(self._given, moves=self._given.moves | moves)
        return replace(about, moves=about.moves | moves)

    def _is_new(self, question: str) -> bool:
        """Whether this was not asked before: who does not know it is not asked again."""
        is_new = question not in self._asked
        self._asked.add(question)
        return is_new

    def _asking(self) -> Questions:
        assert self._questions is not None
        return self._questions
