"""The feed: rows, statuses and answers reach one inbox, and no thread outlives it."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from acquire.errors import CoatbenchError, ControlError, NotFound, Refused
from acquire.live.feed import Denied, Done, Feed, Gone, Heard, Stood, Told
from tests.patience import PATIENCE_S


class Daemon:
    """The far end of any number of callers: what it is given to tell, it tells."""

    def __init__(self) -> None:
        self.told: queue.Queue[dict[str, Any] | None] = queue.Queue()
        self.calls: list[str] = []
        self.answer: Callable[[str], dict[str, Any]] = lambda name: {"call": name}
        self.open = 0
        self.lock = threading.Lock()

    def connect(self) -> DaemonCaller:
        with self.lock:
            self.open += 1
        return DaemonCaller(self)


class DaemonCaller:
    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon

    def call(self, name: str, **arguments: object) -> dict[str, Any]:
        self._daemon.calls.append(name)
        return self._daemon.answer(name)

    @contextmanager
    def watch(self) -> Iterator[Iterator[dict[str, Any]]]:
        yield self._items()

    def _items(self) -> Iterator[dict[str, Any]]:
        while True:
            try:
                item = self._daemon.told.get(timeout=0.05)
            except queue.Empty:
                item = {"alive": True}
            if item is None:
                return
            yield item

    def close(self) -> None:
        with self._daemon.lock:
            self._daemon.open -= 1


class Listener:
    """Gives what is heard one by one, in order."""

    def __init__(self, feed: Feed) -> None:
        self._feed = feed
        self._heard: list[Heard] = []

    def until(self, kind: type[Heard]) -> Any:
        """The next thing of a kind."""
        for _ in range(100):
            while self._heard:
                heard = self._heard.pop(0)
                if isinstance(heard, kind):
                    return heard
            self._heard = self._feed.take(0.2)
        raise AssertionError(f"no {kind.__name__} was heard")


def test_rows_and_statuses_are_heard_and_signs_of_life_are_not() -> None:
    daemon = Daemon()
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        assert listener.until(Stood) == Stood({"call": "status"})
        daemon.told.put({"table": "note", "id": 1})
        assert listener.until(Told) == Told({"table": "note", "id": 1})


def test_what_is_asked_is_answered_and_the_status_follows_at_once() -> None:
    daemon = Daemon()
    with Feed(daemon.connect, poll_s=60) as feed:
        listener = Listener(feed)
        listener.until(Stood)
        feed.ask("skip")
        assert listener.until(Done) == Done("skip", {"call": "skip"})
        assert listener.until(Stood) == Stood({"call": "status"})


def test_rows_bring_a_new_status_without_waiting_for_the_next_poll() -> None:
    daemon = Daemon()
    with Feed(daemon.connect, poll_s=60) as feed:
        listener = Listener(feed)
        listener.until(Stood)
        daemon.told.put({"table": "note", "id": 1})
        listener.until(Told)
        listener.until(Stood)


def test_a_status_waits_for_the_rows_that_it_follows_on() -> None:
    daemon = Daemon()
    asked = threading.Event()

    def answer(name: str) -> dict[str, Any]:
        asked.set()
        return {"call": name, "place": 2}

    daemon.answer = answer
    with Feed(daemon.connect, poll_s=60) as feed:
        assert asked.wait(PATIENCE_S)
        daemon.told.put({"table": "note", "id": 1, "place": 1})
        daemon.told.put({"table": "note", "id": 2, "place": 2})
        heard: list[Heard] = []
        while not any(isinstance(h, Stood) for h in heard):
            heard += feed.take(1)
    assert [type(h) for h in heard[:3]] == [Told, Told, Stood]


@pytest.mark.parametrize("error", [Refused("not now", reason="gate"), NotFound("no zone Q9")])
def test_a_refusal_is_heard_and_the_feed_goes_on(error: CoatbenchError) -> None:
    daemon = Daemon()

    def answer(name: str) -> dict[str, Any]:
        if name == "skip":
            raise error
        return {"call": name}

    daemon.answer = answer
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        feed.ask("skip")
        assert listener.until(Denied) == Denied("skip", error)
        listener.until(Stood)


def test_a_stream_that_ends_is_the_daemon_gone_with_the_next_step() -> None:
    daemon = Daemon()
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        daemon.told.put(None)
        gone = listener.until(Gone)
    assert isinstance(gone.error, ControlError)
    assert "coatbench run --resume" in gone.error.next_step


def test_trouble_of_a_call_is_the_daemon_gone() -> None:
    daemon, error = Daemon(), ControlError("the daemon does not answer")

    def answer(name: str) -> dict[str, Any]:
        raise error

    daemon.answer = answer
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        assert listener.until(Gone) == Gone(error)


def test_a_fault_of_the_program_is_heard_and_does_not_hang_the_screen() -> None:
    daemon = Daemon()

    def answer(name: str) -> dict[str, Any]:
        raise ZeroDivisionError("a fault")

    daemon.answer = answer
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        gone = listener.until(Gone)
    assert "feed-talk" in gone.error.what
    assert "a fault" in gone.error.got


def test_no_thread_and_no_connection_is_left_behind() -> None:
    daemon, before = Daemon(), threading.active_count()
    with Feed(daemon.connect, poll_s=0.01) as feed:
        listener = Listener(feed)
        listener.until(Stood)
        assert daemon.open == 2
    assert daemon.open == 0
    assert threading.active_count() == before


def test_a_feed_that_cannot_connect_twice_leaves_nothing_open() -> None:
    daemon, error = Daemon(), ControlError("no more clients")

    def connect() -> DaemonCaller:
        if daemon.open:
            raise error
        return daemon.connect()

    with pytest.raises(ControlError), Feed(connect):
        pass
    assert daemon.open == 0


def test_a_flood_of_rows_is_taken_in_portions_and_the_status_is_not_asked_for_each() -> None:
    daemon = Daemon()
    for number in range(5000):
        daemon.told.put({"table": "note", "id": number})
    told: list[int] = []
    with Feed(daemon.connect, poll_s=60) as feed:
        while len(told) < 5000:
            heard = feed.take(1)
            assert len(heard) <= 2000
            told += [h.item["id"] for h in heard if isinstance(h, Told)]
    assert told == list(range(5000))
    assert daemon.calls.count("status") < 500
