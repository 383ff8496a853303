"""A scenario that runs: every device on a port, in a hand, and its script by and by.

Devices on lines are processes of their own, on pseudo-terminals, or on TCP where the system has
none; USB devices are on a simulated bus in this process, whose `backend` pyusb's calls run on. The
script is done by whoever calls `tick`: nothing here waits or asks a clock. Devices go by the
computer's clock, or by the time that `tick` is given. One thread at a time;
on leaving everything has ended.
"""

from __future__ import annotations

import contextlib
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from simulators.arguments import ActFault
from simulators.clock import HeldClock
from simulators.commands import Answer
from simulators.handle import DeviceFault, DeviceGone, DeviceProcess
from simulators.scenario import Device, Scenario, Step, hands_of
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hands import usb_hand
from simulators.wires import PTY, TCP, USB

STARTS_AT_ONCE = 8
"""More would only wait for one another."""


class Running(Protocol):
    """A device that runs."""

    @property
    def serial(self) -> str: ...

    @property
    def port(self) -> str: ...

    def act(self, act: str, /, **arguments: Any) -> Answer: ...

    def close(self) -> None: ...


class Done(NamedTuple):
    """A step of the script that was done, and what the device answered, or why it did not."""

    step: Step
    answer: Answer
    fault: str = ""


class Rig:
    """Starts a scenario: ``with Rig(scenario, folder) as rig``. Ports have their names in `folder`.

    `held_at_s`: the devices' time stands there and goes on to what each `tick` is given.
    Raises DeviceGone when a device does not come up; nothing is left running then.
    """

    def __init__(
        self,
        scenario: Scenario,
        folder: Path,
        *,
        has_terminals: bool = os.name == "posix",
        held_at_s: float | None = None,
    ) -> None:
        self.scenario = scenario
        self._clock = None if held_at_s is None else HeldClock(held_at_s)
        self.backend = SimulatedBackend(now_s=None if self._clock is None else self._clock.now_s)
        self.devices: dict[str, Running] = {}
        self._folder = folder
        self._has_terminals = has_terminals
        self._left = list(scenario.script)
        self._since_s: float | None = None
        self._gone: set[str] = set()
        try:
            self._start()
            self.hands = hands_of(scenario, self.devices)
            for device in scenario.devices:
                for fault in device.faults:
                    self.devices[device.name].act("fault", **fault)
        except BaseException:
            self.close()
            raise

    def kind_of_port(self, device: Device) -> str:
        """`pty`, `tcp` or `usb`."""
        if device.port is not None:
            return device.port
        if PTY in device.wire.ports and not self._has_terminals:
            return TCP
        return device.wire.ports[0]

    def do(self, line: str) -> Answer:
        """Do a line as in `simulators.commands`. Raises ActFault, DeviceFault, DeviceGone."""
        return self.hands.do(line)

    def tick(self, now_s: float) -> list[Done]:
        """Do what the script has for now; time counts from the first call."""
        if self._since_s is None:
            self._since_s = now_s
        done = self._ended()
        self._move(now_s)
        while self._left and self._is_due(self._left[0], now_s):
            step = self._left.pop(0)
            self._since_s = now_s
            try:
                done.append(Done(step, self.do(step.do)))
            except (ActFault, DeviceFault, DeviceGone) as fault:
                done.append(Done(step, {}, str(fault)))
        return done

    def close(self) -> None:
        """End every device. May be repeated."""
        running = list(self.devices.values())
        self.devices.clear()
        with ThreadPoolExecutor(max(1, len(running))) as pool:
            list(pool.map(lambda device: device.close(), running))

    def _move(self, now_s: float) -> None:
        """Let the devices' time go on, if it is held: what is due by now has been sent then."""
        if self._clock is None:
            return
        self._clock.move(now_s)
        self.backend.look_again()
        moved: list[DeviceProcess] = []
        for name, device in self.devices.items():
            if isinstance(device, DeviceProcess) and name not in self._gone:
                # One that has just ended is told of the next time.
                with contextlib.suppress(DeviceGone):
                    device.begin("clock", to_s=now_s)
                    moved.append(device)
        for device in moved:
            with contextlib.suppress(DeviceGone):
                device.answer()

    def _ended(self) -> list[Done]:
        """Devices whose processes have ended by themselves, each told once."""
        found: list[Done] = []
        for name, device in self.devices.items():
            if name in self._gone or not isinstance(device, DeviceProcess):
                continue
            status = device.ended
            if status is not None:
                self._gone.add(name)
                device.close()
                why = f"its program has ended with status {status}; next: end the simulation"
                found.append(Done(Step(name), {}, why))
        return found

    def __enter__(self) -> Rig:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _is_due(self, step: Step, now_s: float) -> bool:
        assert self._since_s is not None
        if step.after_presses is not None:
            return self.hands.hands[step.of].presses >= step.after_presses
        return step.after_s is None or now_s - self._since_s >= step.after_s

    def _start(self) -> None:
        """All at once: what takes time is the start of each process."""
        devices = self.scenario.devices
        with ThreadPoolExecutor(min(STARTS_AT_ONCE, len(devices))) as pool:
            starting = {device.name: pool.submit(self._started, device) for device in devices}
        gone: list[BaseException] = []
        for name, one in starting.items():
            if fault := one.exception():
                gone.append(fault)
            else:
                self.devices[name] = one.result()
        if gone:
            raise gone[0]

    def _started(self, device: Device) -> Running:
        wire = device.wire
        if USB in wire.ports:
            return usb_hand(wire.layout, self.backend, device.serial, device.seed, device.options)
        kind = self.kind_of_port(device)
        options: dict[str, Any] = {
            **device.options,
            "host": kind,
            "link": self._folder / f"{device.name}-port" if kind == PTY else None,
            "held_at_s": None if self._clock is None else self._clock.now_s(),
        }
        return DeviceProcess(
            wire.kind, layout=wire.layout, serial=device.serial, seed=device.seed, **options
        )
