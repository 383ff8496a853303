"""The invented transmission head: its body and its commands, as `drivers/usbtmc/WIRE.md` has them.

No bytes of the bus here: program messages in, response messages out. A measurement takes its
time by the clock it is given; nothing waits. One thread at a time.
"""

from __future__ import annotations

import math
import struct
from collections import deque
from collections.abc import Callable

from simulators.usb.light import OPEN, Beam, Slide
from simulators.usb.status import (
    COMMAND_ERROR,
    DEVICE_ERROR,
    EXECUTION_ERROR,
    QUERY_ERROR,
    Status,
)

MESSAGE_LIMIT_BYTES = 256
PRESS_S = 0.3
BANDS_NM = ((315.0, 400.0), (380.0, 780.0), (780.0, 1400.0))
FRESH, ADJUSTED = 1, 2

_FORMATS = {"REAL,32": "f", "REAL,64": "d", "INT,16": "h", "INT,32": "i"}
_HIGHEST = {"h": 2**15 - 1, "i": 2**31 - 1}
_NOT_A_NUMBER, _INFINITY = "9.91E37", "9.9E37"


class Head:
    """A spectral transmission head. `slide` is what lies in its beam; a press takes `press_s`."""

    def __init__(
        self,
        serial_number: str,
        now_s: Callable[[], float],
        beam: Beam,
        press_s: float = PRESS_S,
    ) -> None:
        self.serial_number = serial_number
        self.beam = beam
        self.slide: Slide = OPEN
        self.lamp_works = True
        self.covered = True
        self.presses = 0
        self._now_s, self._press_s = now_s, press_s
        self.power_on()

    def power_on(self) -> None:
        """Begin anew, as after the plug was put in."""
        self.status = Status()
        self.count = 0
        self._adjustments = 0
        self._spectrum: list[float] = []
        self._counts: list[float] = []
        self._sends_counts = False
        self._spectrum_count = 0
        self._measured_at_s: float | None = None
        self._format, self._order = "f", ">"
        self._units: deque[str] = deque()
        self._after: Callable[[], bytes | None] | None = None
        self._answers: list[bytes] = []
        self._response = b""

    # -- a hand ----------------------------------------------------------------------------------

    def press(self) -> bool:
        """Press the button; False while it is measuring."""
        self.tick()
        if self._measured_at_s is not None:
            return False
        self._measured_at_s = self._now_s() + self._press_s
        return True

    def adjust(self) -> None:
        """The head's own key: the open beam of now is 100 %."""
        self.beam.adjust()
        self._adjustments += 1
        self.status.own |= ADJUSTED

    # -- the host --------------------------------------------------------------------------------

    @property
    def takes_messages(self) -> bool:
        """Whether the message before has been dealt with."""
        self.tick()
        return not self._units and self._after is None

    @property
    def response(self) -> bytes:
        """The response message that waits; empty if there is none."""
        self.tick()
        return self._response

    def hear(self, message: bytes) -> None:
        """A program message."""
        if self._response:
            self.forget()
            self.status.error('-410,"Query INTERRUPTED"', QUERY_ERROR)
        if len(message) > MESSAGE_LIMIT_BYTES:
            self.status.error('-223,"Too much data"', EXECUTION_ERROR)
            return
        text = message.decode("latin-1").removesuffix("\n").upper()
        self._units.extend(text.split(";"))
        self.tick()

    def forget(self) -> None:
        """Throw a response, and what is still to be done for one, away."""
        self._units.clear()
        self._answers.clear()
        self._after = None
        self._set_response(b"")

    def fetched(self) -> None:
        """The response has been sent whole."""
        self._set_response(b"")

    def tick(self) -> None:
        """Let the time that went by take effect."""
        if self._measured_at_s is not None:
            if self._now_s() < self._measured_at_s:
                return
            self._measured_at_s = None
            went_well = self._measure()
            after, self._after = self._after, None
            if after is not None and went_well:
                self._answer(after())
        while self._units and self._measured_at_s is None:
            self._do(self._units.popleft().strip())
        if self._answers and not self._units and self._measured_at_s is None:
            self._set_response(b";".join(self._answers) + b"\n")
            self._answers.clear()

    def _set_response(self, response: bytes) -> None:
        self._response = response
        self.status.message_waits = bool(response)

    def _answer(self, answer: bytes | None) -> None:
        if answer is not None:
            self._answers.append(answer)

    def _measure(self) -> bool:
        self.presses += 1
        self.count += 1
        fault = "" if self.lamp_works else "101,Lamp"
        if not self.covered:
            fault = "102,Cover open"
        if fault:
            number, text = fault.split(",")
            self.status.error(f'{number},"{text};{self.count}"', DEVICE_ERROR)
            return False
        self._spectrum = self.beam.look(self.slide, self.presses)
        self._counts = self.beam.counts(self.slide, self.presses)
        self._spectrum_count = self.count
        self.beam.age()
        self.status.own |= FRESH
        return True

    # -- commands --------------------------------------------------------------------------------

    def _do(self, unit: str) -> None:
        header, _, parameter = unit.partition(" ")
        parameter = parameter.strip()
        if not header:
            return
        status = self.status
        if header in ("*ESE", "*SRE"):
            if not parameter.isdecimal() or int(parameter) > 255:
                self._out_of_range()
            elif header == "*ESE":
                status.event_enable = int(parameter)
            else:
                status.service_enable = int(parameter) & ~64
        elif header == "FORM" and parameter.replace(" ", "") in _FORMATS:
            self._format = _FORMATS[parameter.replace(" ", "")]
        elif header == "FORM:BORD" and parameter in ("NORM", "SWAP"):
            self._order = ">" if parameter == "NORM" else "<"
        elif header == "SCAL" and parameter in ("PERC", "COUN"):
            self._sends_counts = parameter == "COUN"
        elif header in ("FORM", "FORM:BORD", "SCAL"):
            self._out_of_range()
        elif parameter:
            self._undefined()
        elif header in ("INIT", "READ?", "READ:BAND?"):
            self._after = {"READ?": self._fetch, "READ:BAND?": self._fetch_bands}.get(header)
            self._measured_at_s = self._now_s() + self._press_s
        elif header == "*CLS":
            status.clear()
        elif header == "*RST":
            self._format, self._order = "f", ">"
            self._sends_counts = False
        else:
            self._query(header)

    def _query(self, header: str) -> None:
        status = self.status
        answers: dict[str, Callable[[], bytes]] = {
            "*IDN?": self._identify,
            "*ESE?": lambda: b"%d" % status.event_enable,
            "*ESR?": lambda: b"%d" % status.take_event(),
            "*SRE?": lambda: b"%d" % status.service_enable,
            "*STB?": lambda: b"%d" % status.summary,
            "*OPC?": lambda: b"1",
            "SYST:ERR?": lambda: status.take_error().encode(),
            "WAV?": self._tell_grid,
            "WAV:GRID?": lambda: self._block(self.beam.grid.wavelengths_nm(), 10),
            "COUN?": lambda: b"%d" % self.count,
            "FETC?": self._fetch,
            "FETC:BAND?": self._fetch_bands,
            "DARK?": lambda: self._block(self.beam.kept_dark, 1),
            "OPEN?": lambda: self._block(self.beam.kept_open, 1),
            "ADJ?": self._tell_adjustments,
        }
        answer = answers.get(header)
        if answer is None:
            self._undefined()
        else:
            self._answer(answer())

    def _identify(self) -> bytes:
        return f"SLIPWAY OPTICS,LIGHT GATE,{self.serial_number},1.2".encode()

    def _tell_grid(self) -> bytes:
        grid = self.beam.grid
        return f"{grid.first_nm:.1f},{grid.step_nm!r},{grid.points}".encode()

    def _fetch(self) -> bytes:
        self.status.own &= ~FRESH
        values, per_unit = (self._counts, 1) if self._sends_counts else (self._spectrum, 100)
        return b"%d," % self._spectrum_count + self._block(values, per_unit)

    def _fetch_bands(self) -> bytes:
        self.status.own &= ~FRESH
        if not self._spectrum:
            return b"0"
        bands = (_band(self.beam.band(self._spectrum, *limits)) for limits in BANDS_NM)
        return ",".join((str(self._spectrum_count), *bands)).encode()

    def _tell_adjustments(self) -> bytes:
        self.status.own &= ~ADJUSTED
        return b"%d" % self._adjustments

    def _block(self, values: list[float], per_unit: int) -> bytes:
        """A definite-length block (IEEE 488.2, 8.7.9) in the present format."""
        numbers: list[float] = values
        highest = _HIGHEST.get(self._format)
        if highest is not None:
            numbers = [_whole(value * per_unit, highest) for value in values]
        data = struct.pack(f"{self._order}{len(numbers)}{self._format}", *numbers)
        length = b"%d" % len(data)
        return b"#%d%b%b" % (len(length), length, data)

    def _undefined(self) -> None:
        self.status.error('-113,"Undefined header"', COMMAND_ERROR)

    def _out_of_range(self) -> None:
        self.status.error('-222,"Data out of range"', EXECUTION_ERROR)


def _whole(value: float, highest: int) -> int:
    """The nearest whole number that fits."""
    return highest if value >= highest else max(round(value), -highest - 1)


def _band(value: float) -> str:
    if math.isnan(value):
        return _NOT_A_NUMBER
    if math.isinf(value):
        return _INFINITY
    text = f"{value:.2f}"
    return "0.00" if text == "-0.00" else text
