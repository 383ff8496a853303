"""A line that takes nothing any more: what it had brought by then is heard and recorded."""

from __future__ import annotations

from acquire.clock import ManualClock
from acquire.errors import LinkLost, LinkUnavailable
from acquire.model import Batch, Noise, Reading
from acquire.pipeline.session import Fittings, Session
from acquire.pipeline.talk import MOST_READS
from tests.unit.session.test_life import PRESS_1, PRESS_2, pressing


class Broken:
    """A link that brings some chunks and takes no byte; also its opener, once."""

    where = address = "socket://192.0.2.7:4001"
    adapter = ""

    def __init__(self, *chunks: bytes, then_lost: bool = True) -> None:
        self._chunks = list(chunks)
        self._then_lost = then_lost
        self.closed = 0

    def open(self) -> Broken:
        if self.closed:
            raise LinkUnavailable("it is gone")
        return self

    def read(self, _timeout_s: float) -> bytes:
        if self._chunks:
            return self._chunks.pop(0)
        if self._then_lost:
            raise LinkLost("the far end is gone")
        return b""

    def write(self, _data: bytes) -> None:
        raise LinkLost("it takes nothing")

    def cancel(self) -> None:
        pass

    def close(self) -> None:
        self.closed += 1


def heard(link: Broken) -> list[Batch]:
    """All batches of a session whose first words find the line broken."""
    batches: list[Batch] = []

    def sink(batch: Batch, _timeout_s: float) -> bool:
        batches.append(batch)
        if batch.disconnected:
            session.stop()
        return True

    session = Session("shore", lambda: Fittings(link, pressing), sink, ManualClock())
    session.run()
    return batches


def bytes_of(batches: list[Batch]) -> bytes:
    return b"".join(batch.received.data for batch in batches if batch.received)


def test_what_had_come_before_a_line_took_no_more_is_recorded_and_understood() -> None:
    for then_lost in (True, False):
        link = Broken(PRESS_1, PRESS_2[:9], then_lost=then_lost)
        batches = heard(link)
        assert bytes_of(batches) == PRESS_1 + PRESS_2[:9]
        reading, torn = (
            fact for one in batches for fact in one.facts if isinstance(fact, Reading | Noise)
        )
        assert isinstance(reading, Reading)
        assert (reading.raw, torn.raw) == (PRESS_1[:-2], PRESS_2[:9])
        assert batches[-1].disconnected is not None
        assert batches[-1].disconnected.message == "it takes nothing"
        assert link.closed == 1


def test_a_line_that_takes_nothing_and_sends_on_and_on_is_left_all_the_same() -> None:
    batches = heard(Broken(*[b"x"] * (2 * MOST_READS)))
    assert bytes_of(batches) == b"x" * MOST_READS
