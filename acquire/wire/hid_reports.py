"""A HID report descriptor read: the fields of every report (USB HID 1.11, 6.2.2, from memory).

A descriptor is a little program: global items set a state that lasts, local items a state that
lasts to the next main item, and main items make fields out of both. What is not understood is told
in plain words and passed over; what a report is long is counted all the same. What a descriptor
may ask for is bounded, whatever it says. Pure; never raises on content; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from acquire.wire.hid_field import Field, ReportKind, usage
from acquire.wire.hid_items import Item, ItemType, items

LONGEST_REPORT_BYTES = 4096
MOST_FIELDS = 2048
MOST_RANGES = 256
DEEPEST = 32
MOST_REMARKS = 20
WIDEST_BITS = 64
"""More than the 32 that a field may have (8.4)."""

_KINDS = {0x8: ReportKind.INPUT, 0x9: ReportKind.OUTPUT, 0xB: ReportKind.FEATURE}
_COLLECTION, _END = 0xA, 0xC
_APPLICATION = 1
_CONSTANT, _VARIABLE, _NULL, _BUFFERED = 1 << 0, 1 << 1, 1 << 6, 1 << 8


class ReportMap(NamedTuple):
    """What the reports of an interface hold.

    `bits` is the length of each report by kind and id, the byte with the id included; the id is 0
    where reports have none. `applications` are the usages of the application collections.
    `remarks` say what in the descriptor was not understood.
    """

    fields: tuple[Field, ...]
    bits: dict[tuple[ReportKind, int], int]
    has_ids: bool
    applications: tuple[int, ...]
    remarks: tuple[str, ...]

    def length(self, kind: ReportKind, report: int) -> int | None:
        """How many bytes a report has; None if there is no such."""
        bits = self.bits.get((kind, report))
        return None if bits is None else (bits + 7) // 8


@dataclass(slots=True)
class _Globals:
    """The state of global items (6.2.2.7)."""

    page: int = 0
    least: Item | None = None
    most: Item | None = None
    physical_least: Item | None = None
    physical_most: Item | None = None
    exponent: int = 0
    unit: int = 0
    size: int = 0
    report: int = 0
    count: int = 0


@dataclass(slots=True)
class _Locals:
    """The state of local items (6.2.2.8). Ranges of usages: (first, last, whether whole)."""

    ranges: list[tuple[int, int, bool]] = field(default_factory=list)
    low: Item | None = None
    high: Item | None = None
    in_set: bool = False
    set_has_one: bool = False


def report_map(descriptor: bytes) -> ReportMap:
    """What a report descriptor says."""
    parser = _Parser()
    whole, fault = items(descriptor)
    for item in whole:
        parser.take(item)
    if fault:
        parser.remark(fault)
    return parser.end()


class _Parser:
    def __init__(self) -> None:
        self._globals = _Globals()
        self._locals = _Locals()
        self._pushed: list[_Globals] = []
        self._around: list[tuple[int, int]] = []
        self._fields: list[Field] = []
        self._bits: dict[tuple[ReportKind, int], int] = {}
        self._applications: list[int] = []
        self._remarks: dict[str, None] = {}
        self._has_ids = False
        self._too_deep = 0

    def remark(self, text: str) -> None:
        if len(self._remarks) < MOST_REMARKS:
            self._remarks[text] = None

    def take(self, item: Item) -> None:
        if item.type is ItemType.GLOBAL:
            self._global(item)
        elif item.type is ItemType.LOCAL:
            self._local(item)
        elif item.type is ItemType.MAIN:
            self._main(item)
            self._locals = _Locals()
        else:
            self.remark("an item of a reserved type was passed over")

    def end(self) -> ReportMap:
        if self._around or self._too_deep:
            self.remark("a collection has no end")
        for key in [key for key, bits in self._bits.items() if bits > 8 * LONGEST_REPORT_BYTES]:
            self.remark(f"report {key[1]} is longer than {LONGEST_REPORT_BYTES} bytes")
            del self._bits[key]
        if self._has_ids and any(report == 0 for _, report in self._bits):
            # Where one report has an id, all have one (6.2.2.7).
            self.remark("a field stands before the first report id")
            self._bits = {key: bits for key, bits in self._bits.items() if key[1]}
        fields = tuple(one for one in self._fields if (one.kind, one.report) in self._bits)
        return ReportMap(
            fields, self._bits, self._has_ids, tuple(self._applications), tuple(self._remarks)
        )

    # -- states --------------------------------------------------------------------------------

    def _global(self, item: Item) -> None:
        state, tag = self._globals, item.tag
        if tag == 0x0:
            state.page = item.unsigned & 0xFFFF
        elif tag == 0x1:
            state.least = item
        elif tag == 0x2:
            state.most = item
        elif tag == 0x3:
            state.physical_least = item
        elif tag == 0x4:
            state.physical_most = item
        elif tag == 0x5:
            # Four bits in two's complement; a whole signed number is common, too.
            code = item.unsigned
            state.exponent = (code ^ 8) - 8 if code <= 0xF else item.signed
        elif tag == 0x6:
            state.unit = item.unsigned
        elif tag == 0x7:
            state.size = item.unsigned
        elif tag == 0x8:
            self._report_id(item.unsigned)
        elif tag == 0x9:
            state.count = item.unsigned
        elif tag == 0xA:
            if len(self._pushed) < DEEPEST:
                self._pushed.append(replace(state))
            else:
                self.remark(f"more than {DEEPEST} states are pushed")
        elif tag == 0xB:
            if self._pushed:
                self._globals = self._pushed.pop()
            else:
                self.remark("a state is popped that was never pushed")
        else:
            self.remark(f"a global item with the reserved tag {tag:X}h was passed over")

    def _report_id(self, report: int) -> None:
        if not 1 <= report <= 255:
            self.remark(f"the report id {report} is none: 1 to 255")
            return
        self._has_ids = True
        self._globals.report = report

    def _local(self, item: Item) -> None:
        state, tag = self._locals, item.tag
        if tag == 0x0:
            self._range(item, item)
        elif tag == 0x1:
            state.low = item
        elif tag == 0x2:
            state.high = item
        elif tag == 0xA:
            state.in_set, state.set_has_one = item.unsigned == 1, False
        elif tag not in (0x3, 0x4, 0x5, 0x7, 0x8, 0x9):
            self.remark(f"a local item with the reserved tag {tag:X}h was passed over")
        if state.low is not None and state.high is not None:
            self._range(state.low, state.high)
            state.low = state.high = None

    def _range(self, low: Item, high: Item) -> None:
        state = self._locals
        # Of usages that stand for one another the first is the preferred one (6.2.2.8).
        if state.in_set and state.set_has_one:
            return
        state.set_has_one = state.in_set
        if high.unsigned < low.unsigned or len(low.data) != len(high.data) > 2:
            self.remark("a range of usages that is none was passed over")
        elif len(state.ranges) >= MOST_RANGES:
            self.remark(f"more than {MOST_RANGES} usages stand before one main item")
        else:
            state.ranges.append((low.unsigned, high.unsigned, len(high.data) > 2))

    # -- main items ----------------------------------------------------------------------------

    def _main(self, item: Item) -> None:
        if item.tag in _KINDS:
            self._make(_KINDS[item.tag], item.unsigned)
        elif item.tag == _COLLECTION:
            self._open(item.unsigned)
        elif item.tag == _END:
            if self._too_deep:
                self._too_deep -= 1
            elif self._around:
                self._around.pop()
            else:
                self.remark("a collection ends that never began")
        else:
            self.remark(f"a main item with the reserved tag {item.tag:X}h was passed over")

    def _open(self, kind: int) -> None:
        ranges = self._usages()
        own = ranges[0][0] if ranges else 0
        if len(self._around) >= DEEPEST:
            self.remark(f"collections are nested more than {DEEPEST} deep")
            self._too_deep += 1
            return
        self._around.append((kind, own))
        if kind == _APPLICATION and len(self._applications) < MOST_RANGES:
            self._applications.append(own)

    def _usages(self) -> tuple[tuple[int, int], ...]:
        """The usages as they are now: one without a page has the last page (6.2.2.8)."""
        page = self._globals.page
        return tuple(
            (low, high) if whole else (usage(page, low), usage(page, high))
            for low, high, whole in self._locals.ranges
        )

    def _make(self, kind: ReportKind, flags: int) -> None:
        state = self._globals
        key = (kind, state.report)
        start = self._bits.get(key, 8 if state.report else 0)
        self._bits[key] = end = start + state.size * state.count
        if not state.size or not state.count:
            self.remark("a field without bits was passed over")
        elif not flags & _CONSTANT and end <= 8 * LONGEST_REPORT_BYTES:
            self._fill(kind, flags, start)

    def _fill(self, kind: ReportKind, flags: int, start: int) -> None:
        state, usages = self._globals, self._usages()
        if state.size > WIDEST_BITS or flags & _BUFFERED:
            self.remark("a field that is no number was passed over")
            return
        least, most, physical = self._extents()
        if least > most:
            self.remark(f"a field with the logical extents {least} to {most} was passed over")
            return
        is_array = not flags & _VARIABLE
        own = iter(_each(usages, state.count))
        around = tuple(one for _, one in self._around)
        for place in range(state.count):
            if len(self._fields) >= MOST_FIELDS:
                self.remark(f"there are more than {MOST_FIELDS} fields")
                return
            self._fields.append(
                Field(
                    kind, state.report, start + place * state.size, state.size,
                    usages if is_array else next(own), is_array, least, most, physical,
                    state.unit, state.exponent, bool(flags & _NULL), around,
                )
            )  # fmt: skip

    def _extents(self) -> tuple[int, int, tuple[int, int]]:
        """Logical and physical ones. Where the lower one is not below zero, neither is meant so.

        A field is signed only if a logical extent is below zero (5.8), and FFh as the upper one of
        a byte from 0 on stands for 255 (common practice).
        """
        state = self._globals
        least, most = _pair(state.least, state.most)
        physical = _pair(state.physical_least, state.physical_most)
        # Undefined or both 0: the same as the logical ones (6.2.2.7).
        return least, most, (least, most) if physical == (0, 0) else physical


def _pair(low: Item | None, high: Item | None) -> tuple[int, int]:
    least = 0 if low is None else low.signed
    if high is None:
        return least, 0
    return least, high.signed if least < 0 else high.unsigned


def _each(usages: tuple[tuple[int, int], ...], count: int) -> list[tuple[tuple[int, int], ...]]:
    """The usages of `count` fields one by one; the last one is that of all that follow."""
    found: list[tuple[tuple[int, int], ...]] = []
    for low, high in usages:
        for one in range(low, high + 1):
            if len(found) == count:
                return found
            found.append(((one, one),))
    last = found[-1] if found else ()
    return found + [last] * (count - len(found))
