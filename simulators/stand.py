"""The loop of a stand-alone device: its port, its control channel and the time in between.

Control is JSON lines: one act a line in, one answer a line out, in order; the end of the input is
`quit`. The acts that every device understands are here (`unplug`, `plug`, `fault`, `echo`, `hush`,
`state`, `quit`); all others are the device's own. Never knows what the bytes mean. One thread,
which waits in one place.
"""

from __future__ import annotations

import json
import select
import socket
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple, NoReturn, Protocol

from simulators import uart
from simulators.arguments import ActFault, Arguments
from simulators.clock import COMPUTER, DeviceClock, HeldClock
from simulators.faults import Piece, read_faults
from simulators.host import Host
from simulators.line import TroubledLine

Answer = dict[str, object]

ACT_LIMIT_BYTES = 1_000_000
MOST_CLOCK_S = 1e12
COMMON_ACTS = ("unplug", "plug", "fault", "echo", "hush", "state", "quit")


@dataclass(frozen=True)
class Deed:
    """What came of an act: the answer, the lines to send, whether the plug is pulled and put in.

    `breaks_off`: whatever was still being sent is not sent any more.
    """

    answer: Answer = field(default_factory=dict)
    send: bytes = b""
    breaks_off: bool = False
    replug: bool = False


class Device(Protocol):
    """A device without a port: bytes in, bytes out, and acts of a hand."""

    @property
    def acts(self) -> tuple[str, ...]:
        """The acts of its own."""
        ...

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host; the whole lines that the device answers with."""
        ...

    def act(self, args: Arguments) -> Deed:
        """Do one of its acts. Raises ActFault."""
        ...

    def state(self) -> Answer:
        """All that is worth knowing about it."""
        ...


class Clocked(Protocol):
    """A device that sends by itself as time goes by."""

    def wait_s(self) -> float | None:
        """How long at most until it has something to send; None for as long as it takes."""
        ...

    def tick(self) -> bytes:
        """The whole lines that are due by now."""
        ...


class Due(NamedTuple):
    """A piece and when it is to go."""

    at_ns: int
    piece: Piece


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON")


class Stand:
    """A device on its port. `run` returns at `quit`; the port is then closed.

    `clock` is its time; of a held one the act `clock` moves it, to `to_s`. `clocked` is the same
    device, if it is one that sends by itself. `setting` is how its end of a
    serial line is set; None for one that any host understands.
    """

    def __init__(
        self,
        device: Device,
        line: TroubledLine,
        host: Host,
        control: socket.socket,
        answer: Callable[[Answer], None],
        act_limit_bytes: int = ACT_LIMIT_BYTES,
        clock: DeviceClock = COMPUTER,
        clocked: Clocked | None = None,
        setting: uart.Setting | None = None,
    ) -> None:
        self._setting = setting
        self._echoes = False
        self._device = device
        self._clocked = clocked
        self._line = line
        self._host = host
        self._control = control
        self._answer = answer
        self._act_limit_bytes = act_limit_bytes
        self._clock = clock
        self._now_ns = clock.now_ns
        self._due: deque[Due] = deque()
        self._rest = b""
        self._done = False
        self._sent_bytes = 0
        self._sent_ns: int | None = None

    def run(self) -> None:
        """Serve until `quit` or the end of the control channel."""
        try:
            while not self._done:
                self._turn()
        finally:
            self._host.unplug()

    def _turn(self) -> None:
        waits = [self._control, *self._host.readers()]
        ready, _, _ = select.select(waits, self._host.writers(), [], self._wait_s())
        # First the port, then the hand: whoever opened the port before an act hears what the
        # act sends.
        self._hear_port()
        if self._control in ready:
            self._hear_control()
        self._tick()
        self._send_due()

    def _tick(self) -> None:
        if self._clocked is not None:
            self._schedule(self._clocked.tick())

    def _wait_s(self) -> float | None:
        waits = [] if self._host.wait_s is None else [self._host.wait_s]
        if isinstance(self._clock, HeldClock):
            # Nothing is ever due before a hand has moved the clock.
            return min(waits, default=None)
        if self._due:
            waits.append(max(0, self._due[0].at_ns - self._now_ns()) / 1e9)
        if self._clocked is not None and (tick_s := self._clocked.wait_s()) is not None:
            waits.append(tick_s)
        return min(waits, default=None)

    def _hear_port(self) -> None:
        data = self._host.receive()
        if not data:
            return
        if self._echoes:
            # Of the adapter's making, and on the line at once: no fault of the device's befalls it.
            self._host.write(data)
        self._schedule(self._device.receive(self._mistaken(data, by_host=False)))

    def _mistaken(self, data: bytes, *, by_host: bool) -> bytes:
        """What the other end takes these bytes for, by the speeds of both ends."""
        own, baud = self._setting, self._host.baud
        if own is None or baud is None or baud == own.baud:
            return data
        other = own._replace(baud=baud)
        return uart.heard(data, own, other) if by_host else uart.heard(data, other, own)

    def _hear_control(self) -> None:
        try:
            data = self._control.recv(65536)
        except OSError:
            data = b""
        if not data:
            self._done = True
            return
        *lines, self._rest = (self._rest + data).split(b"\n")
        for text in lines:
            if not self._done and text.strip():
                self._answer(self._answer_to(text))
        if len(self._rest) > self._act_limit_bytes and not self._done:
            # Whoever writes so is no hand that acts; there is nothing to go on with.
            limit = self._act_limit_bytes
            self._answer({"error": f"act: got more than {limit} bytes, wanted a line"})
            self._done = True

    def _answer_to(self, text: bytes) -> Answer:
        self._sent_bytes, self._sent_ns = 0, None
        try:
            answer = self._perform(self._read(text))
        except ActFault as fault:
            return {"error": str(fault)}
        except OSError as fault:
            return {"error": f"port: got {fault}, wanted a port"}
        self._send_due()
        if self._sent_ns is not None:
            answer |= {"sent_bytes": self._sent_bytes, "sent_mono_ns": self._sent_ns}
        return {"ok": True, **answer}

    def _read(self, text: bytes) -> Arguments:
        wanted = 'a JSON object with an act, as {"act": "state"}'
        try:
            given = json.loads(text, parse_constant=_no_constant)
        except (ValueError, RecursionError):
            raise ActFault("act", text.decode(errors="replace"), wanted) from None
        if not isinstance(given, dict) or not isinstance(given.get("act"), str):
            raise ActFault("act", given, wanted)
        return Arguments(given.pop("act"), given)

    def _perform(self, args: Arguments) -> Answer:
        if args.act in self._device.acts:
            deed = self._device.act(args)
            if deed.breaks_off:
                self._due.clear()
            if deed.replug:
                self._host.unplug()
                self._host.plug()
            self._schedule(deed.send)
            return dict(deed.answer) | (self._host.address() if deed.replug else {})
        if args.act == "fault":
            self._line.await_faults(read_faults(args))
            return {"waiting_faults": self._line.waiting_faults}
        if args.act == "clock" and isinstance(self._clock, HeldClock):
            self._clock.move(args.number("to_s", 0, MOST_CLOCK_S))
            args.finish()
            # What is due by now has gone out before this is answered.
            self._tick()
            return {}
        if args.act not in COMMON_ACTS:
            known = ", ".join((*self._device.acts, *COMMON_ACTS))
            raise ActFault("act", args.act, f"one of {known}")
        if args.act == "echo":
            self._echoes = args.flag("on")
        args.finish()
        if args.act == "unplug":
            self._host.unplug()
        elif args.act == "plug":
            self._host.plug()
            return self._host.address()
        elif args.act == "hush":
            self._line.hush()
            self._due.clear()
        elif args.act == "quit":
            self._done = True
        return self._state() if args.act == "state" else {}

    def _state(self) -> Answer:
        return {
            **self._device.state(),
            "plugged": self._host.plugged,
            "waiting_faults": self._line.waiting_faults,
            "waiting_pieces": len(self._due),
            "lost_bytes": self._host.lost_bytes,
        }

    def _schedule(self, lines: bytes) -> None:
        at_ns = self._now_ns()
        if self._due:
            # A line is one after the other: what is late holds up what comes after it.
            at_ns = max(at_ns, self._due[-1].at_ns)
        for piece in self._line.send(lines):
            at_ns += round(piece.delay_s * 1e9)
            self._due.append(Due(at_ns, piece))

    def _send_due(self) -> None:
        now_ns = self._now_ns()
        while self._due and self._due[0].at_ns <= now_ns:
            piece = self._due.popleft().piece
            if piece.data:
                at_ns = self._now_ns()
                sent = self._host.write(self._mistaken(piece.data, by_host=True))
                self._sent_bytes += sent
                if sent and self._sent_ns is None:
                    self._sent_ns = at_ns
            if piece.hang_up:
                self._host.unplug()
                self._due.clear()
