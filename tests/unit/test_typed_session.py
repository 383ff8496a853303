"""Typing for a session: where the entry goes, and who is told no."""

from __future__ import annotations

import queue
from collections.abc import Callable

import pytest

from acquire.clock import ManualClock
from acquire.driverapi import Driver
from acquire.errors import DriverError, Refused
from acquire.link import MemoryOpener
from acquire.link.base import Opener
from acquire.link.typed import Typed, TypedOpener
from acquire.model import Batch, Notice, Reading
from acquire.pipeline.session import Fittings, Session
from acquire.supervise import Scope
from drivers.keyed import FAMILY
from tests.captures import profile
from tests.patience import PATIENCE_S


def keyed() -> Driver:
    return FAMILY.driver(profile("keyed-gloss-20"), "profile")


class Running:
    """A running session and what it handed over; use as a context manager."""

    def __init__(self, opener: Opener, make: Callable[[], Driver] = keyed) -> None:
        self.batches: queue.Queue[Batch] = queue.Queue()
        self.session = Session(
            "hand", lambda: Fittings(opener, make), self._sink, ManualClock(), "keyed"
        )
        self.crashes: list[object] = []
        self._scope = Scope(lambda name, error: self.crashes.append((name, error)))

    def _sink(self, batch: Batch, _timeout_s: float) -> bool:
        self.batches.put(batch)
        return True

    def next(self) -> Batch:
        return self.batches.get(timeout=PATIENCE_S)

    def __enter__(self) -> Running:
        self._scope.start("session", self.session.run)
        return self

    def __exit__(self, *error: object) -> None:
        self.session.stop()
        self._scope.__exit__(None, None, None)
        assert self.crashes == []


def test_an_entry_is_on_the_tape_and_becomes_what_the_driver_makes_of_it() -> None:
    with Running(TypedOpener()) as running:
        connected = running.next().connected
        assert connected is not None
        assert connected.where == "typed by hand"
        assert running.session.state.message == "without a port, typed by hand"
        assert running.session.type_in("91.4") == Typed(0, 5)
        first = running.next()
        assert first.received is not None
        assert first.received.data == b"91.4\n"
        assert isinstance(first.facts[0], Notice)
        assert running.session.type_in("91.4") == Typed(5, 10)
        second = running.next()
        assert second.received is not None
        assert second.received.offset == 5
        assert isinstance(second.facts[0], Reading)
        assert second.sent is None


def test_an_instrument_with_a_port_takes_no_entries() -> None:
    opener = MemoryOpener("/dev/shore")
    device = opener.plug()
    with Running(opener) as running:
        running.next()
        with pytest.raises(Refused) as caught:
            running.session.type_in("91.4")
        assert caught.value.reason == "has a port"
        assert "/dev/shore" in caught.value.got
        assert caught.value.next_step == "press the button of hand"
        assert device.read(0) == b""


def test_an_entry_before_there_is_a_connection_is_refused() -> None:
    session = Running(TypedOpener()).session
    with pytest.raises(Refused, match="not connected yet") as caught:
        session.type_in("91.4")
    assert caught.value.reason == "not connected"


def test_an_instrument_without_a_driver_takes_no_entries() -> None:
    def unfit() -> Driver:
        raise DriverError("there is no driver 'keyed'")

    running = Running(TypedOpener())
    running.session = Session("hand", unfit, running._sink, ManualClock(), "keyed")  # type: ignore[arg-type]
    running.session.run()
    with pytest.raises(Refused, match="there is no driver") as caught:
        running.session.type_in("91.4")
    assert caught.value.reason == "no driver"


def test_it_cannot_be_asked_for_a_reading_and_the_next_step_is_to_type() -> None:
    with Running(TypedOpener()) as running:
        running.next()
        with pytest.raises(Refused, match="Next: type what hand shows"):
            running.session.take()
