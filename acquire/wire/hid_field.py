"""One field of a HID report: where its bits are and what they stand for (USB HID 1.11, 6.2.2.5 to
6.2.2.8, cited from memory). Pure; never raises on content; any thread."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class ReportKind(IntEnum):
    """As the requests GET_REPORT and SET_REPORT number them (7.2.1)."""

    INPUT = 1
    OUTPUT = 2
    FEATURE = 3


def usage(page: int, number: int) -> int:
    """A whole usage: the page in the upper half (6.2.2.8)."""
    return page << 16 | number


def usage_shown(whole: int) -> str:
    """A usage as it is written in profiles: page and number in hexadecimal digits."""
    return f"{whole >> 16:04X}:{whole & 0xFFFF:04X}"


@dataclass(frozen=True, slots=True)
class Field:
    """One number in a report, or one choice of an array.

    `bit` counts from the first bit of the report as it is sent, the byte with its id included.
    `usages` are ranges of whole usages, the last number included: of an array the choices in order,
    of any other field its own usage. `least` and `most` are the logical extents, `physical` what
    these stand for, in `unit` times ten to `exponent` (6.2.2.7). `collections` are the usages of
    those around it, the outermost first.
    """

    kind: ReportKind
    report: int
    bit: int
    bits: int
    usages: tuple[tuple[int, int], ...]
    is_array: bool
    least: int
    most: int
    physical: tuple[int, int]
    unit: int
    exponent: int
    has_null: bool
    collections: tuple[int, ...]

    @property
    def usage(self) -> int:
        """Its first usage; 0 if it has none."""
        return self.usages[0][0] if self.usages else 0

    def has(self, whole: int) -> bool:
        """Whether this is one of its usages."""
        return any(low <= whole <= high for low, high in self.usages)

    def raw(self, report: int) -> int:
        """Its number in a report that is given as one number, least significant byte first."""
        value = report >> self.bit & (1 << self.bits) - 1
        return value - (1 << self.bits) if self.least < 0 and value >> self.bits - 1 else value

    def value(self, report: int) -> int | None:
        """As `raw`; None outside the logical extents: that is no value (6.2.2.5, null state)."""
        raw = self.raw(report)
        return raw if self.least <= raw <= self.most else None

    def selected(self, value: int) -> int:
        """The usage that an array's value selects (6.2.2.5); 0 if none has it."""
        place = value - self.least
        if place < 0:
            return 0
        for low, high in self.usages:
            if place <= high - low:
                return low + place
            place -= high - low + 1
        return 0
