"""How long a session waits before it opens a link again, by a clock that it waits with."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import pytest

from acquire.clock import ManualClock
from acquire.errors import LinkLost, LinkUnavailable
from acquire.model import Batch, IncidentKind
from acquire.pipeline.session import (
    FIRST_PAUSE_S,
    LONGEST_BARREN_PAUSE_S,
    LONGEST_PAUSE_S,
    Fittings,
    Session,
)
from tests.unit.session.test_life import PRESS_1, unasked

BARREN = (0.2, 0.4, 0.8, 1.6, 3.2, 6.4, 12.8, 25.6, 51.2, 60.0, 60.0)
USUAL = (0.2, 0.4, 0.8, 1.6, 3.2, 5.0, 5.0, 5.0, 5.0, 5.0, 5.0)


class Waiting(threading.Event):
    """Waits by the clock of the test, and notes how long."""

    def __init__(self, clock: ManualClock) -> None:
        super().__init__()
        self._clock = clock
        self.pauses: list[float] = []

    def wait(self, timeout: float | None = None) -> bool:
        assert timeout is not None
        self.pauses.append(timeout)
        self._clock.advance(timeout)
        return False


class Fleeting:
    """A port that opens, brings what it has, and is lost; also its opener, for so many tries.

    `lives` are the connections: what each brings, and how long it lasts. After the last one the
    session is stopped.
    """

    where = address = "/dev/ttyUSB0"
    adapter = ""

    def __init__(self, clock: ManualClock, lives: Sequence[tuple[bytes, float] | None]) -> None:
        self._clock = clock
        self._lives = iter(lives)
        self._left: list[bytes] = []
        self._lasts_s = 0.0
        self.session: Session | None = None

    def open(self) -> Fleeting:
        try:
            life = next(self._lives)
        except StopIteration:
            assert self.session is not None
            self.session.stop()
            life = None
        if life is None:
            raise LinkUnavailable("it is not there")
        data, self._lasts_s = life
        self._left = [data] if data else []
        return self

    def read(self, _timeout_s: float) -> bytes:
        if self._left:
            return self._left.pop()
        self._clock.advance(self._lasts_s)
        raise LinkLost("the far end is gone")

    def write(self, _data: bytes) -> None:
        pass

    def cancel(self) -> None:
        pass

    def close(self) -> None:
        pass


def lived(lives: Sequence[tuple[bytes, float] | None]) -> tuple[list[float], list[Batch]]:
    """The pause after each connection, and all that was handed over."""
    clock = ManualClock()
    port, nudge = Fleeting(clock, lives), Waiting(clock)
    batches: list[Batch] = []

    def sink(batch: Batch, _timeout_s: float) -> bool:
        batches.append(batch)
        return True

    port.session = Session(
        "shore", lambda: Fittings(port, unasked), sink, clock, "line", nudge=nudge
    )
    port.session.run()
    return nudge.pauses, batches


@pytest.mark.parametrize(
    ("life", "pauses"),
    [
        pytest.param((b"", 0.0), BARREN, id="lost at once without a byte"),
        pytest.param((b"", LONGEST_PAUSE_S), BARREN, id="lost after the longest pause"),
        pytest.param((PRESS_1, 0.0), USUAL, id="lost at once after a press"),
        pytest.param(None, USUAL, id="not there"),
        pytest.param((b"", 5.1), (0.2,) * 11, id="lost after longer than the longest pause"),
    ],
)
def test_a_port_is_opened_again_after_growing_pauses_up_to_the_longest(
    life: tuple[bytes, float] | None, pauses: tuple[float, ...]
) -> None:
    assert max(USUAL) == LONGEST_PAUSE_S
    assert max(BARREN) == LONGEST_BARREN_PAUSE_S
    found, _ = lived([life] * len(pauses))
    assert found == pytest.approx(pauses)


def test_a_barren_port_that_brings_a_byte_is_waited_for_no_longer_than_any_other() -> None:
    pauses, _ = lived([(b"", 0.0)] * 10 + [(PRESS_1, 0.0)] * 2 + [(PRESS_1, 6.0)])
    assert pauses[9:] == [LONGEST_BARREN_PAUSE_S, LONGEST_PAUSE_S, LONGEST_PAUSE_S, FIRST_PAUSE_S]


def test_a_barren_port_is_told_of_once() -> None:
    _, batches = lived([(b"", 0.0)] * 11)
    told = [one for batch in batches for one in batch.incidents]
    assert [one.kind for one in told] == [IncidentKind.LINK_LOST, IncidentKind.LINK_UNAVAILABLE]
    assert sum(batch.disconnected is not None for batch in batches) == 11
