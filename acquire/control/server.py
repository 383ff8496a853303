"""The daemon's end of the control socket: one thread accepts, one thread a client answers.

Listens on loopback only. A line without the daemon's token is answered with one refusal and the
connection is closed; nothing else is told to a stranger. Clients are bounded in number and in what
they may send (`places`), and none of them can hold up the recorder. Whatever the system refuses to
give for a new connection, those that are there go on, and the next is accepted when it gives again.
"""

from __future__ import annotations

import contextlib
import hmac
import ipaddress
import socket
import threading
from collections.abc import Callable, Mapping
from typing import Any

from acquire.clock import Clock, SystemClock
from acquire.control import names
from acquire.control.lines import LINE_LIMIT_BYTES, Lines
from acquire.control.places import LOBBY_S, SEATS, Places
from acquire.control.shapes import row_item
from acquire.control.troubles import error_item
from acquire.errors import CoatbenchError, ControlError, Refused
from acquire.hub import Hub

POLL_S = 0.5
BREATHER_S = 0.2
STUCK_CLIENT_S = 5.0
STRANGER_LINE_BYTES = 65_536

ALWAYS = frozenset({names.HELLO, names.STATUS, names.STOP})
"""Calls that are answered even when every seat is taken."""

_STRANGER = {
    "ok": False,
    "error": error_item(
        Refused(
            "the token is not this daemon's",
            reason="token",
            next_step="use coatbench as the user who started the daemon",
        )
    ),
}

_FULL = {
    "ok": False,
    "error": error_item(
        Refused(
            "the daemon has no free place for another program",
            reason="full",
            got=f"{SEATS} connections in use",
            wanted="one of them ended",
            next_step="end a coatbench watch or run that nobody needs; status and stop go on",
        )
    ),
}

CallTable = Callable[[str, Mapping[str, object]], dict[str, object]]
Spawn = Callable[[str, Callable[[], None]], object]


class ControlServer:
    """Answers calls and streams stored rows.

    `answer` runs a call and gives its reply or raises; `spawn` starts a named thread that the
    caller joins; `pause` waits for so many seconds, by default until `close` at the most. Raises
    `ControlError` if the address cannot be had.
    """

    def __init__(
        self,
        host: str,
        port: int,
        token: str,
        answer: CallTable,
        hub: Hub,
        spawn: Spawn,
        *,
        clock: Clock | None = None,
        pause: Callable[[float], object] | None = None,
    ) -> None:
        if not ipaddress.ip_address(host).is_loopback:
            raise ControlError(
                "the control address is not on this computer",
                got=host,
                wanted="a loopback address such as 127.0.0.1",
                next_step="mend 'control' in bench.toml",
            )
        self.token = token
        self._answer = answer
        self._hub = hub
        self._spawn = spawn
        self._places = Places()
        self._closed = threading.Event()
        self._clock = clock or SystemClock()
        self._pause = pause or self._closed.wait
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self._socket = socket.socket(family, socket.SOCK_STREAM)
        try:
            self._socket.bind((host, port))
            self._socket.listen(SEATS)
        except OSError as e:
            self._socket.close()
            raise ControlError(
                f"the control address {host}:{port} cannot be used",
                got=str(e),
                next_step='free it, or write control = "127.0.0.1:0" in bench.toml',
            ) from e
        self._socket.settimeout(POLL_S)
        self.host, self.port = self._socket.getsockname()[:2]

    def run(self) -> None:
        """The accepting thread's body, until `close`."""
        number = 0
        while not self._closed.is_set():
            self._places.turn_out_overdue(self._clock.now())
            try:
                client, _ = self._socket.accept()
            except TimeoutError:
                continue
            except OSError:
                # No file handle is left, or the caller has gone: neither is for good.
                if not self._closed.is_set():
                    self._pause(BREATHER_S)
                continue
            self._places.let_in(client, self._clock.now())
            number += 1
            try:
                self._spawn(f"control-{number}", lambda c=client: self._serve(c))  # type: ignore[misc]
            except RuntimeError:  # the system gives no thread
                self._places.leave(client)
                self._pause(BREATHER_S)

    def close(self) -> None:
        """Stop accepting and listen to nobody any more; safe to call twice.

        A reply that is under way still goes out, the one to ``stop`` among them.
        """
        self._closed.set()
        self._socket.close()
        self._places.turn_out_all()

    # -- one client ------------------------------------------------------------------------------

    def _serve(self, client: socket.socket) -> None:
        lines = Lines(client, STRANGER_LINE_BYTES)
        try:
            client.settimeout(LOBBY_S)
            while not self._closed.is_set():
                item = lines.receive()
                if item is None:
                    return
                if not self._is_ours(item):
                    lines.send(_STRANGER)
                    return
                is_seated = self._places.seat(client)
                if is_seated and item.get("call") == names.WATCH:
                    self._stream(lines)
                    return
                # Whoever does not take its reply must not hold up the daemon's end.
                client.settimeout(STUCK_CLIENT_S)
                lines.send(self._reply(item) if is_seated or _is_always(item) else _FULL)
                if is_seated:
                    lines.limit_bytes = LINE_LIMIT_BYTES
                    client.settimeout(None)
        except ValueError as e:
            with contextlib.suppress(OSError):
                lines.send(
                    {
                        "ok": False,
                        "error": error_item(
                            Refused("that line is no call", reason="line", got=str(e)[:200])
                        ),
                    }
                )
        except OSError:
            pass  # the client has gone; nothing is lost by that
        finally:
            self._places.leave(client)

    def _is_ours(self, item: dict[str, Any]) -> bool:
        token = item.get("token")
        return isinstance(token, str) and hmac.compare_digest(
            token.encode("utf-8", "surrogatepass"), self.token.encode()
        )

    def _reply(self, item: dict[str, Any]) -> dict[str, Any]:
        name, arguments = item.get("call"), item.get("arguments", {})
        try:
            if not isinstance(name, str) or not isinstance(arguments, dict):
                raise Refused("that line is no call", reason="line", wanted="call and arguments")
            if name == names.HELLO:
                return {"ok": True, "reply": {}}
            return {"ok": True, "reply": self._answer(name, arguments)}
        except CoatbenchError as error:
            return {"ok": False, "error": error_item(error)}
        except TimeoutError:
            return {
                "ok": False,
                "error": error_item(
                    ControlError(
                        "the daemon is busy; nothing was done",
                        next_step="try again, and close other programs that use the store",
                    )
                ),
            }
        except Exception as error:  # one client's call must not end the daemon
            return {
                "ok": False,
                "error": error_item(
                    Refused(
                        "the call failed by a fault of the program",
                        reason="fault",
                        got=repr(error)[:300],
                        next_step="report the fault with what was asked",
                    )
                ),
            }

    def _stream(self, lines: Lines) -> None:
        """Send stored rows as they come, and a sign of life when there are none."""
        lines.sock.settimeout(STUCK_CLIENT_S)
        with self._hub.watch() as watcher:
            lines.send({"ok": True, "reply": {}})
            lines.send({"alive": True, "place": watcher.place})
            while not self._closed.is_set():
                rows, missed = watcher.pull(POLL_S)
                first = watcher.place - len(rows) + 1
                if missed:
                    lines.send({"missed": missed, "place": first - 1})
                for place, row in enumerate(rows, first):
                    lines.send({**row_item(row), "place": place})
                if not rows:
                    lines.send({"alive": True, "place": watcher.place})


def _is_always(item: dict[str, Any]) -> bool:
    name = item.get("call")
    return isinstance(name, str) and name in ALWAYS
