"""What is asked of the person at the meter, each until the answer can be used. Main thread."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from acquire.cli.hearing import Person, is_said
from acquire.errors import Misuse
from acquire.model import Quantity
from acquire.schema.band import band

_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:[.,][0-9]{1,6})?")

NO_UNIT = "none"
"""The answer that a word beside the number is no unit."""

_MAYBE_THOUSANDS = re.compile("[+-]?[1-9][0-9]{0,2},[0-9]{3}")


def number(text: str) -> Decimal:
    """What the display showed, with a point or a comma. Raises `Misuse`."""
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    if _NUMBER.fullmatch(text) is None:
        raise Misuse(
            "that is no number as a display shows it",
            got=repr(text[:40]),
            wanted="digits, with a sign and decimals where it shows them, such as 91.4 or -0.5",
            next_step="type it as it stands on the display, without its unit and without signs "
            "between thousands",
        )
    if _MAYBE_THOUSANDS.fullmatch(text):
        raise Misuse(
            "that is a number of thousands, or one with three decimals",
            got=repr(text),
            wanted="a point where its decimals begin, and no sign between thousands",
            next_step=f"type {text.replace(',', '')} or {text.replace(',', '.')}",
        )
    return Decimal(text.replace(",", "."))


def unit_named(text: str, kinds: Iterable[Quantity]) -> str | None:
    """The unit of one of these kinds that a word or a sign means; None for any other text."""
    from acquire.units import symbol, units_of  # noqa: PLC0415 - slow

    units = [unit for kind in kinds for unit in units_of(kind)]
    return next((unit for unit in units if text and text in (unit, symbol(unit))), None)


class Questions:
    """Questions to one person."""

    def __init__(self, person: Person) -> None:
        self._person = person

    def is_yes(self, question: str) -> bool:
        return is_said(self._person, question, "y")

    def is_no(self, question: str) -> bool:
        return is_said(self._person, question, "n")

    def number(self, question: str) -> Decimal | None:
        """A number; None if nothing was typed, or a dash, as in ``--shown -``."""
        while True:
            text = self._person.ask(question)
            if text.strip() in ("", "-"):
                return None
            try:
                return number(text)
            except Misuse as fault:
                told = f"{fault.what}: got {fault.got}, wanted {fault.wanted}"
                self._person.tell([told, fault.next_step])

    def count(self, question: str) -> int | None:
        """A whole number from 1 on; None if nothing was typed."""
        while True:
            text = self._person.ask(f"{question} (such as 255; Enter if you do not know)").strip()
            if not text:
                return None
            if re.fullmatch("0*[1-9][0-9]{0,8}", text):
                return int(text)
            self._person.tell([f"got {text[:40]!r}, wanted a whole number, such as 255"])

    def limit(
        self, question: str, which: str, shown: Decimal, unit: str | None = None
    ) -> Decimal | None:
        """The least or the largest number of a display that has shown this one.

        Both are in the unit of the display, which is named where it is known. None if nobody knows.
        """
        from acquire.units import symbol  # noqa: PLC0415 - slow

        named = f", in {symbol(unit) or unit}" if unit else ""
        example = "0 if it never shows one below, " if which == "least" else ""
        while True:
            value = self.number(
                f"{question} What is the {which} number it can show{named}? ({example}Enter if you "
                "do not know)"
            )
            if value is None or (value <= shown if which == "least" else value >= shown):
                return value
            self._person.tell([f"got {value}, and {shown} came of a press"])

    def choice(self, question: str, choices: Sequence[str]) -> str:
        """One of the choices."""
        while True:
            answer = self._person.ask(f"{question} ({', '.join(choices)})").strip()
            if answer in choices:
                return answer
            self._person.tell([f"got {answer!r}, wanted one of {', '.join(choices)}"])

    def unit(self, kind: Quantity) -> str:
        """A unit of this kind, by its word or its sign."""
        from acquire.units import symbol, units_of  # noqa: PLC0415 - slow

        units = units_of(kind)
        signs = [sign for unit in units if (sign := symbol(unit))]
        named = unit_named(self.choice("In which unit?", (*units, *signs)), (kind,))
        assert named is not None
        return named

    def unit_with(self, word: str, kind: Quantity) -> str | None:
        """The unit that this word beside numbers means; `NO_UNIT` if it is a mere mark, None if it
        is a unit of no such kind, or if nobody knows."""
        from acquire.units import units_of  # noqa: PLC0415 - slow

        units = ", ".join(units_of(kind))
        while True:
            answer = self._person.ask(
                f"In which unit are the numbers, with {word!r} in every press? ({units}; {NO_UNIT} "
                f"if {word!r} is no unit at all; Enter if it is another one, or if you do not know)"
            ).strip()
            if answer == NO_UNIT:
                return NO_UNIT
            if not answer or (named := unit_named(answer, (kind,))) is not None:
                return named if answer else None
            self._person.tell([f"got {answer!r}, wanted one of {units}, {NO_UNIT}, or Enter"])

    def geometry(self, likely: str) -> str:
        """The geometry; `likely` is a number of every line that may mean one."""
        words = f" {likely} stands in every line, and may mean that." if likely else ""
        return self.choice(f"Which geometry?{words}", ("20", "60", "85"))

    def band_of(self, word: str) -> str | None:
        """The band that a word of the bytes means; None if it is none, or if nobody knows."""
        return self._band(
            f"Which band, in nm, is {word!r}, which stands at the number at some presses? (such as "
            '"315-400" or "940"; Enter if it is none, or if you do not know)',
            may_be_none=True,
        )

    def band(self) -> str:
        """The band, as settings and profiles write it."""
        answer = self._band('Which band, in nm, such as "315-400" or "940"?', may_be_none=False)
        assert answer is not None
        return answer

    def _band(self, question: str, *, may_be_none: bool) -> str | None:
        while True:
            answer = self._person.ask(question).strip()
            if not answer and may_be_none:
                return None
            try:
                return band(answer)
            except ValueError as fault:
                self._person.tell([f"got {answer!r}, wanted {fault}"])
