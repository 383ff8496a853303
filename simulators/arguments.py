"""Arguments of an act, as they came in JSON: read by name, and every wrong one told plainly.

Never guesses: a name nobody asked for is as wrong as a value out of bounds. Pure.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping

from simulators.names import NAME_WANTED, is_name


class ActFault(Exception):
    """An act that cannot be done; its text says what, what was got and what is wanted."""

    def __init__(self, what: str, got: object, wanted: str) -> None:
        super().__init__(f"{what}: got {shown(got)}, wanted {wanted}")
        self.what, self.got, self.wanted = what, shown(got), wanted


def shown(got: object) -> str:
    """A value as it stood in the JSON text, shortened."""
    try:
        text = got if isinstance(got, str) and got == "nothing" else json.dumps(got, default=str)
    except (ValueError, RecursionError):
        # Python writes no number of thousands of digits, and nothing that is nested without end.
        return "a value too large to be shown"
    return text if len(text) <= 80 else text[:77] + "..."


class Arguments:
    """The arguments of one act. Read what is known, then `finish` refuses what is left."""

    def __init__(self, act: str, given: Mapping[str, object]) -> None:
        self.act = act
        self._given = dict(given)
        self._known: list[str] = []

    def has(self, name: str) -> bool:
        """Whether it was given; null counts as not given."""
        self._known.append(name)
        return self._given.get(name) is not None

    def fault(self, name: str, wanted: str) -> ActFault:
        """The fault of one argument."""
        got = self._given.get(name)
        return ActFault(f"{self.act} {name}", "nothing" if got is None else got, wanted)

    def number(self, name: str, low: float, high: float, default: float | None = None) -> float:
        """A finite number from `low` to `high`; without a default it must be given."""
        wanted = f"a number from {low:g} to {high:g}"
        if not self.has(name) and default is not None:
            return default
        return self._number(name, self._given.get(name), low, high, wanted)

    def whole(self, name: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number from `low` to `high`; without a default it must be given."""
        if not self.has(name) and default is not None:
            return default
        got = self._given.get(name)
        if isinstance(got, bool) or not isinstance(got, int) or not low <= got <= high:
            raise self.fault(name, f"a whole number from {low} to {high}")
        return got

    def flag(self, name: str, default: bool | None = None) -> bool:
        """True or false; without a default it must be given."""
        if not self.has(name) and default is not None:
            return default
        got = self._given.get(name)
        if not isinstance(got, bool):
            raise self.fault(name, "true or false")
        return got

    def text(self, name: str, pattern: str, wanted: str, default: str | None = None) -> str:
        """Text that is wholly of a pattern; without a default it must be given."""
        if not self.has(name) and default is not None:
            return default
        got = self._given.get(name)
        if not isinstance(got, str) or not re.fullmatch(pattern, got):
            raise self.fault(name, wanted)
        return got

    def name(self, name: str, default: str | None = None) -> str:
        """Text that can be the name of something at a bench; see `simulators.names`."""
        if not self.has(name) and default is not None:
            return default
        got = self._given.get(name)
        if not isinstance(got, str) or not is_name(got):
            raise self.fault(name, NAME_WANTED)
        return got

    def choice(self, name: str, choices: Iterable[str]) -> str:
        """One of some words."""
        words = list(choices)
        self.has(name)
        got = self._given.get(name)
        if not isinstance(got, str) or got not in words:
            raise self.fault(name, "one of " + ", ".join(words))
        return got

    def words(self, name: str, known: Iterable[str]) -> list[str]:
        """Some of the words that are known, once each, in their order."""
        words = list(known)
        self.has(name)
        got = self._given.get(name)
        if not isinstance(got, list) or not got or any(got.count(one) > 1 for one in got):
            raise self.fault(name, "a list of " + ", ".join(words) + ", once each")
        if any(one not in words for one in got):
            raise self.fault(name, "a list of " + ", ".join(words))
        return [word for word in words if word in got]

    def angles(self, name: str) -> list[int]:
        """Some of the geometries of gloss, once each."""
        self.has(name)
        got = self._given.get(name)
        known = (20, 60, 85)
        if (
            not isinstance(got, list)
            or not got
            or any(isinstance(one, bool) or one not in known for one in got)
            or len(set(got)) < len(got)
        ):
            raise self.fault(name, "a list of 20, 60, 85, once each")
        return got

    def by_angle(
        self, name: str, angles: Iterable[int], low: float, high: float
    ) -> dict[int, float]:
        """Numbers by angle: ``{"20": 93.2}``, for at least one of `angles` and no other."""
        names = {str(angle): angle for angle in angles}
        wanted = f"an object of numbers from {low:g} to {high:g} by angle, of " + ", ".join(names)
        self.has(name)
        got = self._given.get(name)
        if not isinstance(got, dict) or not got or not set(got) <= set(names):
            raise self.fault(name, wanted)
        return {
            names[key]: self._number(name, value, low, high, wanted) for key, value in got.items()
        }

    def by_name(self, name: str, names: Iterable[str], low: float, high: float) -> dict[str, float]:
        """Numbers by name, for at least one of `names` and no other."""
        known = list(names)
        wanted = f"an object of numbers from {low:g} to {high:g}, of " + ", ".join(known)
        self.has(name)
        got = self._given.get(name)
        if not isinstance(got, dict) or not got or not set(got) <= set(known):
            raise self.fault(name, wanted)
        return {key: self._number(name, value, low, high, wanted) for key, value in got.items()}

    def everywhere(
        self, name: str, names: Iterable[str], low: float, high: float
    ) -> dict[str, float]:
        """Numbers by name, or one number for all of `names`."""
        self.has(name)
        got = self._given.get(name)
        if isinstance(got, dict):
            return self.by_name(name, names, low, high)
        one = self._number(name, got, low, high, f"a number from {low:g} to {high:g}, or by name")
        return dict.fromkeys(names, one)

    def part(self, names: Iterable[str]) -> dict[str, object]:
        """What was given of some names, to be read elsewhere."""
        return {name: self._given[name] for name in names if self.has(name)}

    def data(self, name: str) -> bytes:
        """Bytes, given as hexadecimal digits."""
        self.has(name)
        got = self._given.get(name)
        try:
            return bytes.fromhex(got if isinstance(got, str) else "?")
        except ValueError:
            raise self.fault(name, "pairs of hexadecimal digits") from None

    def tables(self, name: str) -> list[dict[str, object]]:
        """A list of tables; none if it was not given."""
        if not self.has(name):
            return []
        got = self._given.get(name)
        if not isinstance(got, list) or not all(isinstance(one, dict) for one in got):
            raise self.fault(name, "a list of tables")
        return got

    def given(self, name: str) -> object:
        """What was given, of whatever kind."""
        return self._given.get(name)

    def left(self) -> list[str]:
        """What was given and nothing has asked for, in its order."""
        return [name for name in self._given if name not in self._known]

    def known(self) -> str:
        """What was asked for, for a message."""
        return ", ".join(dict.fromkeys(self._known)) or "no argument"

    def finish(self) -> None:
        """Refuse every argument that nothing has asked for."""
        if left := self.left():
            raise ActFault(f"{self.act} {left[0]}", self._given[left[0]], self.known())

    def _number(self, name: str, got: object, low: float, high: float, wanted: str) -> float:
        if isinstance(got, bool) or not isinstance(got, int | float):
            raise self.fault(name, wanted)
        # An integer too large for a float compares all the same; nan compares with nothing.
        if not low <= got <= high or not math.isfinite(got):
            raise self.fault(name, wanted)
        return float(got)
