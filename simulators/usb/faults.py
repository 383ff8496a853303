"""What can befall the packets of a device on their way, each by name and drawn by a seed.

`stall`      the pipe is halted instead of moving the packet; the packet comes after the clearing
`drop`       the packet never comes
`short`      the packet ends early, and the transfer with it
`unplug`     the plug is pulled after the packet, in mid-transfer
`wrong_tag`  the tag in the head of a transfer of the test-and-measurement class is another
`duplicate`  the packet comes twice
`slow`       the packet comes `slow_s` later

A fault befalls what the device sends on one pipe; `stall` befalls what it takes, too. Faults wait
in a queue, and each packet takes one. One thread at a time, as a behaviour is called.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable, Iterable

from simulators.usb.behaviour import Behaviour, Setup, Stall

KINDS = ("stall", "drop", "short", "unplug", "wrong_tag", "duplicate", "slow")
CLEAN = "clean"


def drawn(seed: int, share: float, kinds: Iterable[str] = KINDS) -> Callable[[], str]:
    """A source of faults: each packet suffers one with a probability of `share`."""
    chance, names = random.Random(f"{seed}|usb faults"), list(kinds)

    def draw() -> str:
        return chance.choice(names) if chance.random() < share else CLEAN

    return draw


class Spoilt:
    """A behaviour whose packets suffer faults.

    `unplug` pulls the plug; it is set once the device is made. `draw` gives the fault of a packet
    for which none waits in the queue.
    """

    def __init__(
        self,
        behaviour: Behaviour,
        now_s: Callable[[], float],
        *,
        slow_s: float = 0.5,
        draw: Callable[[], str] = lambda: CLEAN,
    ) -> None:
        self.behaviour = behaviour
        self.unplug: Callable[[], None] = lambda: None
        self.suffered: list[tuple[int, str]] = []
        self._now_s = now_s
        self._slow_s = slow_s
        self._draw = draw
        self._queues: dict[int, deque[str]] = {}
        self._held: dict[int, deque[tuple[float, bytes]]] = {}

    def add(self, endpoint: int, *kinds: str) -> None:
        """Faults for the next packets of a pipe."""
        unknown = set(kinds) - {*KINDS, CLEAN}
        if unknown:
            raise ValueError(f"faults: got {sorted(unknown)}, wanted some of {', '.join(KINDS)}")
        self._queues.setdefault(endpoint, deque()).extend(kinds)

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:
        return self.behaviour.handle_control(setup, data)

    def handle_bulk_out(self, endpoint: int, packet: bytes) -> bool:
        # Only what is meant for this pipe: nothing but a refusal can befall what is taken.
        queue = self._queues.get(endpoint)
        if queue and queue.popleft() == "stall":
            self.suffered.append((endpoint, "stall"))
            raise Stall
        return self.behaviour.handle_bulk_out(endpoint, packet)

    def poll_bulk_in(self, endpoint: int) -> bytes | None:
        return self._poll(endpoint, self.behaviour.poll_bulk_in)

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:
        return self._poll(endpoint, self.behaviour.poll_interrupt_in)

    def halt_cleared(self, endpoint: int) -> None:
        self.behaviour.halt_cleared(endpoint)

    def reset(self) -> None:
        self._held.clear()
        self.behaviour.reset()

    def _poll(self, endpoint: int, poll: Callable[[int], bytes | None]) -> bytes | None:
        held = self._held.setdefault(endpoint, deque())
        if held:
            return held.popleft()[1] if self._now_s() >= held[0][0] else None
        packet = poll(endpoint)
        if packet is None:
            return None
        queue = self._queues.get(endpoint)
        kind = queue.popleft() if queue else self._draw()
        if kind == CLEAN:
            return packet
        self.suffered.append((endpoint, kind))
        if kind == "stall":
            held.append((self._now_s(), packet))
            raise Stall
        if kind == "drop":
            return None
        if kind == "short":
            return packet[: len(packet) // 2]
        if kind == "wrong_tag":
            return packet[:1] + bytes((packet[1] ^ 0x55,)) + packet[2:] if packet[1:] else packet
        if kind == "slow":
            held.append((self._now_s() + self._slow_s, packet))
            return None
        if kind == "duplicate":
            held.append((self._now_s(), packet))
        else:
            self.unplug()
        return packet
