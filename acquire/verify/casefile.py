"""Case files: check values with their sources, a JSON list of objects. Nothing in one is run.

A case has `id`, `calc` (which calculation), `quantity`, `inputs`, `expected`, `tolerance`,
`source`, `status`, and may have `note`, `published` (digits as printed) and whatever else its
owner writes down. It passes when for every key of `expected` |got - expected| <= abs + rel
|expected| by its own entry in `tolerance`, or by ``*``. Words, truths and null (nothing there) are
compared as they are, lists element by element. A tolerance that nothing can miss makes no case:
one that is relative by 1 or more, or wider than every figure of the case. One that merely takes in
zero and the opposite sign is told beside the verdict (`loose`). Any thread.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from acquire.errors import Fault
from acquire.schema import Schema, rule, show, survey
from acquire.verify.elements import Element, elements
from acquire.visible import says_something

LARGEST_BYTES = 20_000_000
NEAR_NOTHING = 1e-3
"""A tolerance below is no wide one, in a case whose figures are all smaller: of remainders."""
EVERY = "*"
"""The tolerance of every quantity that has none of its own."""
_SHORT, _LONG = 200, 2000


def _name(value: str) -> str:
    if not says_something(value) or len(value) > _SHORT:
        raise ValueError(f"a name of 1 to {_SHORT} characters")
    return value


def _words(value: str) -> str:
    if not says_something(value) or len(value) > _LONG:
        raise ValueError(f"words, 1 to {_LONG} characters")
    return value


Name = Annotated[str, AfterValidator(_name)]
Words = Annotated[str, AfterValidator(_words)]
Room = Annotated[float, Field(ge=0, allow_inf_nan=False)]


class Tolerance(Schema):
    """|got - expected| <= abs + rel |expected|."""

    abs: Room = 0.0
    rel: Annotated[float, Field(ge=0, lt=1, allow_inf_nan=False)] = 0.0

    def of(self, wanted: float) -> float:
        """How far an answer may lie from what is expected; infinite beyond binary64."""
        return self.abs + self.rel * abs(wanted)


class Case(Schema):
    """One case."""

    id: Name
    calc: Name
    quantity: Words
    inputs: Annotated[dict[str, Any], Field(description="an object with the inputs")]
    expected: Annotated[dict[str, Any], Field(description="an object with what is expected")]
    tolerance: dict[str, Tolerance]
    source: Words
    status: Name

    @rule
    def something_is_expected(self) -> Iterator[Fault]:
        if not self.expected:
            yield Fault("expected", "nothing", "one quantity or more: else the case proves nothing")

    @rule
    def every_figure_has_a_tolerance(self) -> Iterator[Fault]:
        for key, wanted in self.expected.items():
            if not _can_be_compared(wanted):
                got = f"{show(wanted)} for {show(key)}"
                yield Fault("expected", got, "a number, word, truth, null, or a list of them")
            elif _has_figure(wanted) and self.tolerance_of(key) is None:
                got = f"nothing for {show(key)}"
                yield Fault("tolerance", got, f'an entry of its own, or one by "{EVERY}"')

    @rule
    def every_tolerance_can_be_missed(self) -> Iterator[Fault]:
        for key, wanted in self.expected.items():
            room = self.tolerance_of(key)
            if room is None or not _has_figure(wanted):
                continue
            largest = max(_figures([wanted, self.inputs]))
            if room.abs > largest and room.abs >= NEAR_NOTHING:
                got = f"{room.abs:g} for {show(key)}, more than any figure of the case"
                yield Fault("tolerance", got, "so little that a wrong answer would not agree")

    @property
    def area(self) -> str:
        """What it is about: the part of its calculation's name before the first dot."""
        return area_of(self.calc)

    def tolerance_of(self, key: str) -> Tolerance | None:
        return self.tolerance.get(key, self.tolerance.get(EVERY))


@dataclass(frozen=True, slots=True)
class Entry:
    """A case as it stands in its file; one with faults is no case, and is known by its place.

    `area` is empty where it cannot be told.
    """

    name: str
    area: str
    case: Case | None
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class CaseFile:
    """What a file holds. `fault` says why nothing, or nothing more, could be read of it.

    `sha256` is the digest of its bytes, empty for a file that could not be read.
    """

    path: Path
    sha256: str
    entries: tuple[Entry, ...]
    fault: Fault | None


def read_cases(path: Path) -> CaseFile:
    """The file, whatever is in it or wrong with it. Never raises for its content."""
    wanted = "a JSON list of cases"
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a name that no system takes
        got = getattr(error, "strerror", None) or str(error)
        return CaseFile(path, "", (), Fault("file", f"{got[:1].lower()}{got[1:]}", wanted))
    if len(data) > LARGEST_BYTES:
        got = f"more than {LARGEST_BYTES} bytes"
        return CaseFile(path, "", (), Fault("file", got, f"at most {LARGEST_BYTES} bytes"))
    digest = hashlib.sha256(data).hexdigest()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        got = f"a byte that is no UTF-8, at {error.start}"
        return CaseFile(path, digest, (), Fault("file", got, wanted))
    found, fault = _entries(text)
    return CaseFile(path, digest, found, fault)


def area_of(calc: str) -> str:
    """The area of a calculation."""
    return calc.partition(".")[0]


def _entries(text: str) -> tuple[tuple[Entry, ...], Fault | None]:
    found: list[Entry] = []
    first: dict[str, int] = {}
    for element in elements(text):
        if isinstance(element, Fault):
            return tuple(found), element
        entry = _entry(element)
        if entry.case is not None:
            before = first.setdefault(entry.case.id, element.place)
            if before != element.place:
                wanted = f"an id of its own: [{before}] has this one"
                fault = Fault(f"{_at(element)}, id", show(entry.case.id), wanted)
                entry = Entry(entry.name, entry.area, None, (fault,))
        found.append(entry)
    return tuple(found), None if found else Fault("file", "no case", "a JSON list of cases")


def _entry(element: Element) -> Entry:
    name = f"[{element.place}]"
    if element.fault is not None:
        return Entry(name, "", None, (element.fault,))
    if not isinstance(element.value, Mapping):
        wanted = "an object with id, calc, inputs, expected, ..."
        return Entry(name, "", None, (Fault(_at(element), show(element.value), wanted),))
    row = {key: value for key, value in element.value.items() if key in Case.model_fields}
    case, faults = survey(Case, row)
    if not faults:
        return Entry(case.id, case.area, case, ())
    calc, own = row.get("calc"), row.get("id")
    if isinstance(own, str) and own and len(own) <= _SHORT:
        name = own
    area = area_of(calc) if isinstance(calc, str) and len(calc) <= _SHORT else ""
    at = _at(element)
    return Entry(name, area, None, tuple(Fault(f"{at}, {f.path}", *f[1:]) for f in faults))


def _at(element: Element) -> str:
    return f"[{element.place}], line {element.line}"


def _can_be_compared(value: object) -> bool:
    if isinstance(value, list):
        return all(map(_can_be_compared, value))
    return value is None or isinstance(value, int | float | str)


def is_loose(wanted: object, room: Tolerance | None) -> bool:
    """Whether zero and the opposite sign of what is expected would agree, too.

    Of a list, whether they would of all its figures. An expected zero has no sign to miss.
    """
    found = [abs(w) for w in _figures(wanted) if w]
    return room is not None and bool(found) and all(room.of(w) >= w for w in found)


def _figures(value: object) -> list[float]:
    """All figures in it, without sign, whatever they are in."""
    if isinstance(value, Mapping):
        return _figures(list(value.values()))
    if isinstance(value, list):
        return [figure for one in value for figure in _figures(one)]
    return [abs(value)] if isinstance(value, int | float) and not isinstance(value, bool) else []


def _has_figure(value: object) -> bool:
    return bool(_figures(value))
