"""What a screen hears from the daemon: stored rows, the status, answers to what was asked.

Two threads per feed. One reads the stream of rows; the other asks for the status about four times
a second, at once after rows came, and passes on what the person asks for. Both only put things
into one inbox, which the screen's thread empties at its own rate. A status waits for the rows that
it follows on, so that nothing is told as so before it is told to have happened. No thread outlives
the block.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from acquire.errors import CoatbenchError, ControlError, Misuse
from acquire.supervise import Scope

POLL_S = 0.25
LEAST_S = 0.05
"""However fast rows come, the status is not asked for more often than this."""
READY_S = 15.0
LIMIT = 20_000
PATIENCE_S = 1.0
"""How long a status waits for its rows: a stream that is held up must not hold up the screen."""
MOST_AT_ONCE = 2_000
"""A screen that empties the inbox must come to draw, too."""


class Told(NamedTuple):
    """An object of the daemon's stream: a stored row, or how many were missed."""

    item: dict[str, Any]


class Stood(NamedTuple):
    """How the bench stands."""

    status: dict[str, Any]


class Done(NamedTuple):
    """Something the person asked for was done."""

    call: str
    reply: dict[str, Any]


class Denied(NamedTuple):
    """Something the person asked for is not allowed or not there."""

    call: str
    error: CoatbenchError


class Gone(NamedTuple):
    """The daemon is gone, or can no longer record. Nothing comes after this."""

    error: CoatbenchError


Heard = Told | Stood | Done | Denied | Gone


class Caller(Protocol):
    """The caller's end of the control socket, as `acquire.control.client.Client` is one."""

    def call(self, name: str, **arguments: object) -> dict[str, Any]: ...

    def watch(self) -> AbstractContextManager[Iterator[dict[str, Any]]]: ...

    def close(self) -> None: ...


class _Wish(NamedTuple):
    call: str
    arguments: dict[str, object]


class Feed:
    """Opens two connections with `connect` and listens until the block is left.

    On entry the stream is open: no row that is stored from then on is missed without a word.
    Raises what connecting raises.
    """

    def __init__(self, connect: Callable[[], Caller], poll_s: float = POLL_S) -> None:
        self._connect = connect
        self._poll_s = poll_s
        self._inbox: queue.Queue[Heard] = queue.Queue(LIMIT)
        self._wishes: queue.SimpleQueue[_Wish] = queue.SimpleQueue()
        self._wake = threading.Event()
        self._stopping = threading.Event()
        self._listening = threading.Event()
        self._place = 0
        self._moved = threading.Condition()
        # A daemon that hangs holds a thread for as long as its socket's deadline, no longer.
        self._scope = Scope(self._crashed, deadline_s=20.0)

    def __enter__(self) -> Feed:
        stream = self._connect()
        try:
            talk = self._connect()
        except BaseException:
            stream.close()
            raise
        self._scope.start("feed-stream", lambda: self._listen(stream))
        self._scope.start("feed-talk", lambda: self._talk(talk))
        self._listening.wait(READY_S)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self._stopping.set()
        self._wake.set()
        with self._moved:
            self._moved.notify_all()
        self._scope.__exit__(kind, error, tb)

    # -- the screen's thread ---------------------------------------------------------------------

    def ask(self, call: str, **arguments: object) -> None:
        """Ask the daemon for something; the answer comes as `Done` or `Denied`."""
        self._wishes.put(_Wish(call, arguments))
        self._wake.set()

    def take(self, timeout_s: float) -> list[Heard]:
        """All that was heard since the last time; waits for at most `timeout_s` if nothing was."""
        heard: list[Heard] = []
        try:
            heard.append(
                self._inbox.get(timeout=timeout_s) if timeout_s > 0 else self._inbox.get_nowait()
            )
            while len(heard) < MOST_AT_ONCE:
                heard.append(self._inbox.get_nowait())
        except queue.Empty:
            pass
        return heard

    # -- the two threads -------------------------------------------------------------------------

    def _put(self, heard: Heard) -> None:
        """Into the inbox, waiting while the screen is behind; the hub counts what that misses."""
        while not self._stopping.is_set():
            with contextlib.suppress(queue.Full):
                self._inbox.put(heard, timeout=0.5)
                return

    def _crashed(self, name: str, error: BaseException) -> None:
        self._put(
            Gone(
                ControlError(
                    f"a part of this program failed ({name})",
                    got=repr(error),
                    next_step="run the command again and report the fault; nothing stored is lost",
                )
            )
        )

    def _listen(self, caller: Caller) -> None:
        try:
            with caller.watch() as items:
                self._listening.set()
                for item in items:
                    if self._stopping.is_set():
                        return
                    if "alive" not in item:
                        self._put(Told(item))
                        self._wake.set()
                    with self._moved:
                        self._place = item.get("place", self._place)
                        self._moved.notify_all()
            self._put(Gone(_gone()))
        except CoatbenchError as error:
            self._put(Gone(error))
        finally:
            self._listening.set()
            caller.close()

    def _talk(self, caller: Caller) -> None:
        try:
            while not self._stopping.is_set():
                self._grant(caller)
                status = caller.call("status")
                self._await(status.get("place", 0))
                self._put(Stood(status))
                if self._wishes.empty():
                    self._stopping.wait(LEAST_S)
                self._wake.wait(self._poll_s)
                # Cleared before the work that it wakes up for: what is set meanwhile wakes again.
                self._wake.clear()
        except CoatbenchError as error:
            self._put(Gone(error))
        finally:
            caller.close()

    def _await(self, place: int) -> None:
        """Let the stream come to the row after which a status was taken."""
        with self._moved:
            self._moved.wait_for(
                lambda: self._place >= place or self._stopping.is_set(), PATIENCE_S
            )

    def _grant(self, caller: Caller) -> None:
        while True:
            try:
                wish = self._wishes.get_nowait()
            except queue.Empty:
                return
            try:
                self._put(Done(wish.call, caller.call(wish.call, **wish.arguments)))
            except Misuse as error:
                self._put(Denied(wish.call, error))


def _gone() -> ControlError:
    return ControlError(
        "the daemon has stopped",
        got="the connection to it ended",
        next_step="see what coatbench serve printed and start it again; what was shown is stored, "
        "and an open run goes on: coatbench check INSTRUMENT, then coatbench run --resume",
    )
