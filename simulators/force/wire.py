"""The three line layouts, as their public description states them: facts to lines. Pure.

None has a checksum. `peak` sends at its button, lines that end in CR alone; so does `powers`, in LF
alone and with powers of ten. `stream` sends a line a sample, in CR LF.
"""

from __future__ import annotations

from simulators.force.gauge import NEWTONS, Peak, shown

PEAK_END = b"\r"
STREAM_END = b"\r\n"

# Nothing proves a line: a wrong low bit would make another good number. With the high bit wrong
# the byte is none of the line's letters, and everybody knows it.
FLIP = 0x80

PEAK_COUNT_WRAPS = 999
PEAK_DECIMALS = {"N": 3, "gf": 1, "kgf": 4, "lbf": 4, "ozf": 4}

STREAM_UNITS = ("N", "gf", "kgf", "lbf")
STREAM_MOST = 99.999

READY = b"READY" + PEAK_END
TARE = b"TARE" + PEAK_END


def peak_line(peak: Peak) -> bytes:
    count = (peak.count - 1) % PEAK_COUNT_WRAPS + 1
    value = {1: "OVER", -1: "UNDER"}.get(peak.beyond)
    value = value or shown(peak.newton, peak.unit, PEAK_DECIMALS[peak.unit])
    return b"P%03d %9s %s" % (count, value.encode(), peak.unit.encode()) + PEAK_END


def peak_identity(serial: str) -> bytes:
    return b"SN " + serial.encode() + PEAK_END


POWERS_END = b"\n"
POWERS_UNITS = ("N", "gf")
POWERS_COUNT_WRAPS = 9999
POWERS_ON = b"ON" + POWERS_END
POWERS_ZERO = b"ZERO" + POWERS_END
POWERS_BEYOND = {1: "+9.9000E+37", -1: "-9.9000E+37"}
POWERS_NO_VALUE = "+9.9100E+37"


def powers_line(peak: Peak, *, cell_works: bool) -> bytes:
    count = (peak.count - 1) % POWERS_COUNT_WRAPS + 1
    value = POWERS_BEYOND.get(peak.beyond) or powers_value(peak)
    value = value if cell_works else POWERS_NO_VALUE
    return f"{count:04d},{value},{peak.unit}".encode() + POWERS_END


def powers_value(peak: Peak) -> str:
    value = f"{peak.newton / NEWTONS[peak.unit]:+.4E}"
    # A display has no negative zero.
    return value if float(value) else value.replace("-", "+", 1)


def powers_identity(serial: str) -> bytes:
    return b"ID," + serial.encode() + POWERS_END


STREAM_ON = b"#ON" + STREAM_END


def stream_identity(serial: str) -> bytes:
    return b"#SN " + serial.encode() + STREAM_END


STREAM_DECIMALS = 3


def within(newton: float, unit: str) -> float:
    """The layout has two digits and no word for more: at its ends the number stands still."""
    most = STREAM_MOST * NEWTONS[unit]
    return max(-most, min(most, newton))


def sample_line(newton: float, unit: str) -> bytes:
    value = shown(within(newton, unit), unit, STREAM_DECIMALS, digits=2)
    return b"%s %s" % (value.encode(), unit.encode()) + STREAM_END
