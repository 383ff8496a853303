"""A weighing device by the HID usage tables, as balance or as force gauge in grams.

Page 8Dh (HID Usage Tables, weighing devices; numbers of usages from memory). Input report 3, six
bytes or eight:

    03  status  unit  exponent  weight, two or four bytes, least significant first

status 1 to 8 stands for usage 71h to 78h, unit 1 to 12 for 51h to 5Ch; the weight is that number
times ten to the exponent (signed) in the unit, and never below zero: what pulls the other way is
`UNDER_ZERO`, with the amount. Feature report 2 has the bits of usage 80h (zero) and 81h. One
thread at a time.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal

from simulators.usb.load import Load, Weight

DATA_REPORT, CONTROL_REPORT = 3, 2
FAULT, AT_ZERO, IN_MOTION, STABLE, UNDER_ZERO, OVER_LIMIT, CALIBRATE, RE_ZERO = range(1, 9)
MILLIGRAM, GRAM, KILOGRAM, OUNCE, POUND = 1, 2, 3, 11, 12
_GRAMS = {MILLIGRAM: 0.001, GRAM: 1.0, KILOGRAM: 1000.0, OUNCE: 28.349523125, POUND: 453.59237}
"""Grams in one; ounce and pound are avoirdupois (exact: 1 lb = 0.45359237 kg)."""

SIGNS = {MILLIGRAM: "mg", GRAM: "g", KILOGRAM: "kg", OUNCE: "oz", POUND: "lb"}

INPUT, FEATURE = 1, 3


def weighing_descriptor(weight_bytes: int) -> bytes:
    """The report descriptor, item by item (HID 1.11, 6.2.2)."""
    highest = "27 ff ff 00 00" if weight_bytes == 2 else "27 ff ff ff 7f"
    return bytes.fromhex(
        "05 8d 09 01 a1 01"  # weighing devices, weighing device: application
        "85 03 09 32 a1 02 75 08 95 01"  # report 3, scale data report; one field of 8 bits
        "09 70 a1 02 15 01 25 08 19 71 29 78 81 00 c0"  # scale status: one of 71h to 78h
        "09 50 a1 02 15 01 25 0c 19 51 29 5c 81 00 c0"  # weight unit: one of 51h to 5Ch
        "15 81 25 7f 09 41 81 02"  # data scaling, -127 to 127
        f"75 {8 * weight_bytes:02x} 15 00 {highest} 09 40 81 02 c0"  # data weight
        "85 02 09 31 a1 02 75 01 95 02 15 00 25 01"  # report 2, scale control report; two bits
        "09 80 09 81 b1 02 95 06 b1 03 c0 c0"  # zero scale, enforced zero return, six to spare
    )


class Gauge:
    """The device: it reports by itself every `interval_s`.

    `exponent` sets the display's step, in `unit`; `noise_g` scatters each report by the seed and
    its own number; `drift_g_per_s` walks on from power-on; `span` is 1 when it is adjusted well.
    `shown` is the number on its display since the last report, None where there is none.
    """

    def __init__(
        self,
        now_s: Callable[[], float],
        seed: int,
        *,
        unit: int = GRAM,
        exponent: int = -1,
        limit_g: float = 2000.0,
        weight_bytes: int = 2,
        interval_s: float = 0.1,
        noise_g: float = 0.02,
    ) -> None:
        self.descriptor = weighing_descriptor(weight_bytes)
        self.unit, self.exponent = unit, exponent
        self.drift_g_per_s = 0.0
        self.span = 1.0
        self.broken = False
        self.enforces_zero = False
        self._now_s, self._seed = now_s, seed
        self._limit_g, self._weight_bytes = limit_g, weight_bytes
        self._interval_s, self._noise_g = interval_s, noise_g
        self._load: Load = Weight(0.0)
        self.power_on()

    def power_on(self) -> None:
        self._on_s = self._put_s = self._due_s = self._now_s()
        self._zero_g = 0.0
        self._last_g = 0.0
        self._reports = 0
        self.shown: str | None = None

    # -- a hand ----------------------------------------------------------------------------------

    def put(self, load: Load) -> None:
        """Put a load on, or hang one to it, in place of the one before."""
        self._load, self._put_s = load, self._now_s()

    def zero(self) -> None:
        """Its own key: what it feels now is nothing."""
        self._zero_g += self._felt_g()

    # -- reports ---------------------------------------------------------------------------------

    def next_input(self) -> bytes | None:
        now_s = self._now_s()
        if now_s < self._due_s:
            return None
        # Nothing is made up for: what was not fetched is not reported later.
        self._due_s = now_s + self._interval_s
        self._reports += 1
        return self._report(self._shown_g())

    def get(self, kind: int, number: int) -> bytes | None:
        if (kind, number) == (INPUT, DATA_REPORT):
            return self._report(self._shown_g())
        if (kind, number) == (FEATURE, CONTROL_REPORT):
            return bytes((CONTROL_REPORT, 2 * self.enforces_zero))
        return None

    def set(self, kind: int, number: int, report: bytes) -> bool:
        if (kind, number) != (FEATURE, CONTROL_REPORT) or len(report) != 2:
            return False
        if report[1] & 1:
            self.zero()
        self.enforces_zero = bool(report[1] & 2)
        return True

    def _felt_g(self) -> float:
        now_s = self._now_s()
        drift_g = self.drift_g_per_s * (now_s - self._on_s)
        return self.span * self._load.grams(now_s - self._put_s) + drift_g - self._zero_g

    def _shown_g(self) -> float:
        chance = random.Random(f"{self._seed}|{self._reports}")
        return self._felt_g() + chance.gauss(0.0, self._noise_g)

    def _report(self, grams: float) -> bytes:
        step_g = _GRAMS[self.unit] * 10.0**self.exponent
        moved_g, self._last_g = abs(grams - self._last_g), grams
        steps = round(abs(grams) / step_g)
        if self.broken:
            status, steps = FAULT, 0
        elif steps >= 1 << (8 * self._weight_bytes) or abs(grams) > self._limit_g:
            status, steps = OVER_LIMIT, 0
        elif grams < 0 and steps:
            status = UNDER_ZERO
        elif moved_g > max(2 * step_g, 6 * self._noise_g):
            status = IN_MOTION
        else:
            status = STABLE if steps else AT_ZERO
        number = Decimal(steps).scaleb(self.exponent) * (-1 if status == UNDER_ZERO else 1)
        self.shown = None if status in (FAULT, OVER_LIMIT) else f"{number:f}"
        head = struct.pack("<BBBb", DATA_REPORT, status, self.unit, self.exponent)
        return head + steps.to_bytes(self._weight_bytes, "little")
