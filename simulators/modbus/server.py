"""A server at its end of the line: who is meant, what it answers, and an adapter that echoes."""

from __future__ import annotations

from collections.abc import Iterable

from simulators.modbus.framing import BROADCAST, Framing, Tcp
from simulators.modbus.pdu import Model, answer

CHARACTER_BITS = 11
NO_GATEWAY = (0, 255)


def whole(data: bytes) -> Iterable[bytes]:
    """What answers what came at once is one message, for whatever befalls messages."""
    return [data] if data else []


def silence_s(baud_rate: int) -> float:
    """3.5 characters, which are between a request and its answer."""
    return 3.5 * CHARACTER_BITS / baud_rate


class Server:
    """`echoes`: a two-wire adapter gives every request back to whoever sent it."""

    def __init__(self, unit: int, framing: Framing, model: Model) -> None:
        self.echoes = False
        self._unit = unit
        self._framing = framing
        self._model = model

    def receive(self, data: bytes, powered: bool) -> bytes:
        """What comes back for these bytes. Without power the adapter still echoes."""
        sent = b"" if powered or not self.echoes else data
        for request in self._framing.feed(data) if powered else []:
            sent += request.frame if self.echoes else b""
            if isinstance(self._framing, Tcp):
                if request.unit in (*NO_GATEWAY, self._unit):
                    sent += request.wrap(answer(self._model, request.data))
            elif request.unit in (self._unit, BROADCAST):
                said = request.wrap(answer(self._model, request.data))
                # A broadcast is obeyed and never answered.
                sent += said if request.unit != BROADCAST else b""
        return sent

    def forget(self) -> None:
        self._framing.forget()
