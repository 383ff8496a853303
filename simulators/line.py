"""The line between a device and its host: whole lines go in, timed pieces come out.

Keeps the queue of faults for the lines to come, the chatter of a bad line, and the time a device
takes. The same seed and the same lines give the same bytes, whatever the clock says. Never sends,
never waits: whoever holds the port does. One thread.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable, Iterable

from simulators.faults import Fault, Line, Piece


class TroubledLine:
    """One direction of a line, from the device to the host.

    `latency_s` passes from the cause (a press, a command) to the first byte. `chatter` is the
    chance, for each line, that noise comes before it, closed by a terminator of its own.
    `flip` is the bit that a corrupted byte gets wrong. `cut` tells the bodies of messages that are
    told apart by something else than `end`, which every one of them has behind it all the same.
    `draw` gives the fault of a line for which none waits in the queue, by the line's own chances.
    """

    def __init__(
        self,
        end: bytes,
        seed: str,
        *,
        flip: int = 0x01,
        latency_s: float = 0.0,
        chatter: float = 0.0,
        cut: Callable[[bytes], Iterable[bytes]] | None = None,
        draw: Callable[[random.Random], Fault | None] = lambda _: None,
    ) -> None:
        self.end = end
        self.latency_s = latency_s
        self.chatter = chatter
        self._cut = cut or (lambda data: data.split(end)[:-1])
        self._draw = draw
        self._seed = seed
        self._flip = flip
        self._sent_lines = 0
        self._faults: deque[Fault] = deque()
        self._held = b""

    @property
    def waiting_faults(self) -> int:
        """Faults that no line has suffered yet."""
        return len(self._faults)

    def await_faults(self, faults: Iterable[Fault]) -> None:
        """Put faults at the end of the queue: each next line takes one."""
        self._faults.extend(faults)

    def hush(self) -> None:
        """Forget the faults that wait and the bytes that a `glued` line holds back."""
        self._faults.clear()
        self._held = b""

    def send(self, data: bytes) -> list[Piece]:
        """What goes out for these whole lines, in order."""
        pieces: list[Piece] = []
        for body in self._cut(data):
            out, silent = self._line(body)
            pieces += out
            if silent:
                break
        if pieces and self.latency_s:
            pieces[0] = pieces[0]._replace(delay_s=pieces[0].delay_s + self.latency_s)
        return pieces

    def _line(self, body: bytes) -> tuple[list[Piece], bool]:
        self._sent_lines += 1
        # Every line has chances of its own, so that a fault taken out of a script leaves the
        # noise of the other lines as it was.
        chance = random.Random(f"{self._seed}|line|{self._sent_lines}")
        line = Line(body, self.end, self._flip, chance)
        before = b""
        if self.chatter and chance.random() < self.chatter:
            before = line.noise(chance.randint(1, 8)) + self.end
        fault = self._faults.popleft() if self._faults else self._draw(chance)
        pieces = fault.befall(line) if fault else [Piece(line.whole)]
        before = self._held + before
        self._held = b""
        if fault and fault.holds:
            self._held = before + b"".join(piece.data for piece in pieces)
            return [], False
        if before:
            # In one chunk with what follows: that is what being glued means.
            first, *rest = pieces or [Piece(b"")]
            pieces = [first._replace(data=before + first.data), *rest]
        return pieces, fault is not None and fault.silences
