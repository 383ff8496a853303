"""A gloss meter without a port: presses and host bytes in, whole lines out.

For in-process use as it is: no thread, no clock, no file.

    device = gloss_device("press", serial="SH-0417", seed=1)
    device.meter.place(TRAP)
    device.press()          # b"R,0001,20,0.0,GU*6D\\r\\n"
    device.receive(b"I?\\r\\n")
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence

from simulators.gloss import wire
from simulators.gloss.meter import Meter, Press


class GlossDevice(ABC):
    """What both layouts share: power, and that a meter without power does nothing."""

    layout: str
    end: bytes
    flip: int
    cut: Callable[[bytes], Iterable[bytes]] | None = None
    least_gap_s = 0.0

    def __init__(self, meter: Meter) -> None:
        self.meter = meter
        self.powered = True
        self.last_press: Press | None = None
        self._commands = wire.Commands(self.end)

    @property
    def serial(self) -> str:
        """What it calls itself."""
        return self.meter.serial

    def press(self, *, still: bool = False) -> bytes:
        """Press the button; `last_press` then says what it showed, None without power."""
        self.last_press = self.meter.press(still=still) if self.powered else None
        return b"" if self.last_press is None else self._tell(self.last_press)

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        if not self.powered:
            return b""
        return b"".join(self._answer(command) for command in self._commands.feed(data))

    def power(self, on: bool) -> bytes:
        """Switch; to switch on what is on does nothing."""
        if on == self.powered:
            return b""
        self.powered = on
        self.last_press = None
        self._commands.forget()
        self.meter.restart()
        return self._start() if on else b""

    def adjust(self, certified: Mapping[int, float]) -> bytes:
        """The meter's own adjustment. Raises ValueError when the meter refuses it."""
        if not self.powered:
            raise ValueError("the meter is off")
        self.meter.adjust(certified)
        return self._tell_adjusted()

    @abstractmethod
    def _start(self) -> bytes: ...

    @abstractmethod
    def _tell(self, press: Press) -> bytes: ...

    @abstractmethod
    def _tell_adjusted(self) -> bytes: ...

    @abstractmethod
    def _answer(self, command: bytes) -> bytes: ...


class PressDevice(GlossDevice):
    """Layout `press`: sends on its own. `memory` makes it repeat its last result at power-on."""

    layout = "press"
    end = wire.PRESS_END
    flip = wire.PRESS_FLIP

    def __init__(self, meter: Meter, firmware: str = "1.4", *, memory: bool = False) -> None:
        super().__init__(meter)
        self.firmware = firmware
        self.memory = memory
        self._last_result = b""

    def _start(self) -> bytes:
        started = wire.press_started(self.serial, self.firmware)
        return started + self._last_result if self.memory else started

    def _tell(self, press: Press) -> bytes:
        if press.code:
            return wire.press_failed(press.count, press.code)
        lines = [wire.press_result(press.count, s.angle, s.tenths) for s in press.shown]
        self._last_result = lines[-1]
        return b"".join(lines)

    def _tell_adjusted(self) -> bytes:
        return wire.press_adjusted(self.meter.count)

    def _answer(self, command: bytes) -> bytes:
        return wire.press_identity(self.serial) if command == b"I?" else b""


class AskedDevice(GlossDevice):
    """Layout `asked`: speaks when spoken to.

    A press that gives no reading leaves the last result as it was, with the count it had: the
    layout has no line for a failure, and a new count would pass an old value off as a new one.
    """

    layout = "asked"
    end = wire.ASKED_END
    flip = wire.ASKED_FLIP

    def __init__(self, meter: Meter) -> None:
        super().__init__(meter)
        self._last_result = wire.ASKED_NONE
        self._adjusted = False

    def _start(self) -> bytes:
        self._last_result = wire.ASKED_NONE
        self._adjusted = False
        return b""

    def _tell(self, press: Press) -> bytes:
        for shown in press.shown:
            self._last_result = wire.asked_result(press.count, shown.tenths)
        return b""

    def _tell_adjusted(self) -> bytes:
        self._adjusted = True
        return b""

    def _answer(self, command: bytes) -> bytes:
        before = wire.ASKED_ADJUSTED if self._adjusted else b""
        self._adjusted = False
        if command == b"M":
            self.press()
        if command in (b"?", b"M"):
            return before + self._last_result
        if command == b"S":
            return before + wire.asked_identity(self.serial)
        return before + wire.ASKED_UNKNOWN


LAYOUTS = (PressDevice.layout, AskedDevice.layout)


def gloss_device(
    layout: str,
    *,
    serial: str,
    seed: int,
    angles: Sequence[int] | None = None,
    repeatability_sd: float = 0.1,
    firmware: str = "1.4",
    memory: bool = False,
    cold_share: float = 0.0,
) -> GlossDevice:
    """A meter that speaks one of the layouts; it stands on nothing and is switched on.

    `angles` is by default 20 for `press`; `asked` knows only 60. Raises ValueError for what the
    layout does not know.
    """
    if layout == PressDevice.layout:
        meter = Meter(
            serial,
            seed,
            angles or (20,),
            repeatability_sd,
            wire.PRESS_COUNT_WRAPS,
            cold_share=cold_share,
        )
        return PressDevice(meter, firmware, memory=memory)
    if layout != AskedDevice.layout:
        raise ValueError(f"layout: got {layout}, wanted one of {', '.join(LAYOUTS)}")
    if angles and tuple(angles) != (wire.ASKED_ANGLE,):
        raise ValueError(f"angles: got {list(angles)}, wanted [60], all that layout asked knows")
    if memory:
        raise ValueError("memory: got true, wanted false: layout asked never sends on its own")
    meter = Meter(serial, seed, (wire.ASKED_ANGLE,), repeatability_sd, cold_share=cold_share)
    return AskedDevice(meter)
