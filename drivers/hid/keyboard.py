"""Whether a device types instead of reporting figures: by its report descriptor alone. Pure.

What is typed cannot be told from what a hand types, and it bears neither unit nor proof; such a
device is refused as a whole, since its keys are the system's.
"""

from __future__ import annotations

from acquire.wire.hid_field import ReportKind, usage
from acquire.wire.hid_reports import ReportMap

_KEYS = 0x07
_KEYPADS = frozenset((usage(1, 6), usage(1, 7)))
_BESIDE = frozenset((usage(1, 0x80), usage(0x0C, 1)))
"""Power keys and media keys, which keyboards have besides (HID Usage Tables, pages 01h and 0Ch)."""

REFUSED = (
    "it types its readings as a keyboard does, and a typed figure has neither unit nor proof: "
    "nothing is read of it. Next: switch its USB output from keyboard to data, as its manual says, "
    "or set driver and profile to one with which readings are typed by hand"
)


def is_keyboard(reports: ReportMap) -> bool:
    """Whether all that it tells are keys."""
    has_keys = False
    for field in reports.fields:
        if field.kind is not ReportKind.INPUT:
            continue
        outermost = field.collections[0] if field.collections else 0
        if outermost in _KEYPADS or field.usage >> 16 == _KEYS:
            has_keys = True
        elif outermost not in _BESIDE:
            return False
    return has_keys
