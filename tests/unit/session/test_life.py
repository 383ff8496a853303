"""The life of a session, with links in memory, the real driver and a clock moved by hand."""

from __future__ import annotations

import queue
from collections.abc import Callable, Iterator

import pytest

from acquire.clock import ManualClock
from acquire.driverapi import Driver
from acquire.driverkit.tables import GATHER_S
from acquire.errors import Refused
from acquire.link import MemoryEnd, MemoryOpener
from acquire.model import Batch, Fact, IncidentKind, Noise, Notice, NoticeKind, Reading
from acquire.pipeline.session import Fittings, Session, gathering_s
from acquire.pipeline.sharing import Users
from acquire.supervise import Scope
from drivers.line import FAMILY
from tests.captures import profile
from tests.patience import PATIENCE_S

PRESS_1 = b"R,0001,20,91.4,GU*51\r\n"
PRESS_2 = b"R,0002,20,86.6,GU*56\r\n"
PRESS_6 = b"R,0006,20,90.2,GU*51\r\n"


class Watched(MemoryOpener):
    """Tells of every try to open it."""

    def __init__(self) -> None:
        super().__init__("shore")
        self.tries: queue.Queue[None] = queue.Queue()

    def open(self) -> MemoryEnd:
        self.tries.put(None)
        return super().open()


class Bench:
    """A running session and what it handed over."""

    def __init__(self, make_driver: Callable[[], Driver], users: Users | None = None) -> None:
        self.clock = ManualClock()
        self.opener = Watched()
        self.batches: queue.Queue[Batch] = queue.Queue()
        self.refused: queue.Queue[Batch] = queue.Queue()
        self.refusing = False
        self.session = Session(
            "shore",
            lambda: Fittings(self.opener, make_driver),
            self._sink,
            self.clock,
            "line",
            users=users,
        )

    def _sink(self, batch: Batch, timeout_s: float) -> bool:
        if self.refusing:
            self.refused.put(batch)
            return False
        self.batches.put(batch)
        return True

    def next(self, wanted: Callable[[Batch], object]) -> Batch:
        """The next batch that is wanted; the ones before are let go."""
        while True:
            batch = self.batches.get(timeout=PATIENCE_S)
            if wanted(batch):
                return batch

    def facts(self, count: int) -> list[Fact]:
        facts: list[Fact] = []
        while len(facts) < count:
            facts += self.next(lambda b: b.facts).facts
        return facts


@pytest.fixture
def running() -> Iterator[Callable[[Callable[[], Driver]], Bench]]:
    """Start a session; it has ended, without a crash, when the test is over."""
    benches: list[Bench] = []
    crashes: list[tuple[str, BaseException]] = []
    with Scope(lambda name, error: crashes.append((name, error))) as scope:

        def start(make_driver: Callable[[], Driver]) -> Bench:
            bench = Bench(make_driver)
            benches.append(bench)
            scope.start(f"session-{len(benches)}", bench.session.run)
            return bench

        yield start
        for bench in benches:
            bench.refusing = False
            bench.session.stop()
    assert crashes == []


Start = Callable[[Callable[[], Driver]], Bench]


def pressing() -> Driver:
    return FAMILY.driver(profile("gloss-press"), "gloss-press")


def unasked() -> Driver:
    """It is not asked for its name, so that no reading waits for that."""
    table = {key: part for key, part in profile("gloss-press").items() if key != "identify"}
    return FAMILY.driver(table, "gloss-press")


def asking() -> Driver:
    return FAMILY.driver(profile("gloss-asked"), "gloss-asked")


def test_a_press_becomes_a_batch_with_its_bytes_and_the_moment_they_came(running: Start) -> None:
    bench = running(pressing)
    device = bench.opener.plug()
    bench.session.wake()
    connected = bench.next(lambda b: b.connected)
    assert connected.connected is not None
    assert connected.connected.where == "shore"
    assert connected.connection == 1
    assert device.read(PATIENCE_S) == b"I?\r\n"
    device.write(b"I,SH-0417*51\r\n")
    batch = bench.next(lambda b: b.received)
    assert batch.sent is not None
    assert (batch.sent.offset, batch.sent.data) == (0, b"I?\r\n")
    bench.clock.advance(5)
    device.write(PRESS_1)
    batch = bench.next(lambda b: b.received)
    assert batch.received is not None
    assert (batch.received.offset, batch.received.data) == (14, PRESS_1)
    pressed = bench.clock.now()
    assert (batch.received.at, batch.facts) == (pressed, ())
    # Whose it is the meter says when it is asked.
    assert device.read(PATIENCE_S) == b"I?\r\n"
    bench.clock.advance(0.02)
    device.write(b"I,SH-0417*51\r\n")
    batch = bench.next(lambda b: b.received)
    assert batch.sent is not None
    assert (batch.sent.offset, batch.sent.at) == (4, pressed)
    (reading,) = batch.facts
    assert isinstance(reading, Reading)
    assert (str(reading.value), reading.flags, reading.at) == ("91.4", set(), pressed)
    device.write(PRESS_2)
    batch = bench.next(lambda b: b.received)
    assert batch.received is not None
    assert batch.received.offset == 2 * 14 + len(PRESS_1)
    assert batch.sent is None


def test_an_absent_device_is_told_once_and_found_when_it_comes(running: Start) -> None:
    bench = running(pressing)
    batch = bench.next(lambda b: b.incidents)
    (incident,) = batch.incidents
    assert incident.kind is IncidentKind.LINK_UNAVAILABLE
    assert "plug the device in" in incident.message
    assert not bench.session.state.connected
    for _ in range(4):
        bench.session.wake()
        bench.opener.tries.get(timeout=PATIENCE_S)
    bench.opener.plug()
    bench.session.wake()
    # Nothing but the connection follows: the same trouble is not told again.
    assert bench.batches.get(timeout=PATIENCE_S).connected is not None
    assert bench.session.state.connected


def test_a_lost_link_is_an_incident_and_the_next_connection_starts_afresh(running: Start) -> None:
    bench = running(unasked)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(b"R,0001,20,9")
    bench.next(lambda b: b.received)
    device.cut()
    last = bench.next(lambda b: b.disconnected)
    (noise,) = last.facts
    assert isinstance(noise, Noise)
    assert (noise.raw, noise.start) == (b"R,0001,20,9", 0)
    assert [i.kind for i in last.incidents] == [IncidentKind.LINK_LOST]
    assert last.disconnected is not None
    assert "found by itself" in last.disconnected.message
    again = bench.opener.plug()
    bench.session.wake()
    assert bench.next(lambda b: b.connected).connection == 2
    bench.clock.advance(5)
    again.write(b"1.4,GU*51\r\n" + PRESS_1)
    tail, reading = bench.facts(2)
    # The tail of the line that was torn is no part of what comes now.
    assert isinstance(tail, Noise)
    assert isinstance(reading, Reading)
    assert reading.start == 11


def test_a_link_that_is_lost_again_as_soon_as_it_is_open_is_told_of_once_until_a_byte_came(
    running: Start,
) -> None:
    bench = running(unasked)
    ends = [bench.opener.plug() for _ in range(4)]
    told = []
    for number, device in enumerate(ends):
        bench.session.wake()
        bench.next(lambda b: b.connected)
        if number == 2:
            device.write(PRESS_1)
            bench.facts(1)
        device.cut()
        told.append(len(bench.next(lambda b: b.disconnected).incidents))
    assert told == [1, 0, 1, 1]


def test_a_link_that_stood_for_a_while_is_told_of_each_time_it_is_lost(running: Start) -> None:
    bench = running(unasked)
    ends = [bench.opener.plug() for _ in range(2)]
    for device in ends:
        bench.session.wake()
        bench.next(lambda b: b.connected)
        bench.clock.advance(6)
        device.cut()
        assert len(bench.next(lambda b: b.disconnected).incidents) == 1


@pytest.mark.parametrize("bytes_per_s", [11_000, 110_000, 220_000])
def test_what_streams_while_it_is_left_alone_has_room_in_a_terminal(bytes_per_s: int) -> None:
    waited_s, waiting_bytes = GATHER_S, 0.0
    for turn in range(200):
        waiting_bytes += bytes_per_s * waited_s
        if turn > 10:
            # What a terminal of Linux keeps for its reader (N_TTY_BUF_SIZE of its source, 4,096).
            assert waiting_bytes < 4095
        came = max(1, min(4095, round(waiting_bytes)))
        waiting_bytes = max(0.0, waiting_bytes - came)
        waited_s = gathering_s(GATHER_S, waited_s, came)
    if bytes_per_s * GATHER_S <= 1024:
        assert waited_s == GATHER_S, "slow streams are not looked at oftener"


def test_stopping_closes_the_link_and_tells_it(running: Start) -> None:
    bench = running(pressing)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(b"half a li")
    bench.next(lambda b: b.received)
    bench.session.stop()
    last = bench.next(lambda b: b.disconnected)
    assert [type(f) for f in last.facts] == [Noise]
    assert last.incidents == ()
    assert last.disconnected is not None
    assert last.disconnected.message == "closed by the daemon"


def test_an_asked_meter_is_asked_when_its_time_has_come(running: Start) -> None:
    bench = running(asking)
    device = bench.opener.plug()
    bench.session.wake()
    assert device.read(PATIENCE_S) == b"S\r"
    device.write(b"S DK-2205\r")
    assert device.read(PATIENCE_S) == b"?\r"
    device.write(b"NONE\r")
    batch = bench.next(lambda b: b.received and b.received.data == b"NONE\r")
    assert batch.sent is not None
    assert (batch.sent.offset, batch.sent.data, batch.facts) == (2, b"?\r", ())
    bench.clock.advance(0.25)
    bench.session.wake()
    assert device.read(PATIENCE_S) == b"?\r"
    device.write(b"1 60   88,3 GU\r")
    assert device.read(PATIENCE_S) == b"S\r"
    device.write(b"S DK-2205\r")
    (reading,) = bench.facts(1)
    assert isinstance(reading, Reading)


def test_time_alone_makes_noise_and_it_is_handed_over_at_once(running: Start) -> None:
    bench = running(pressing)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(b"R,0001")
    bench.next(lambda b: b.received)
    bench.clock.advance(1)
    bench.session.wake()
    (noise,) = bench.facts(1)
    assert isinstance(noise, Noise)
    assert noise.reason == "not ended within 0.5 s"


def test_a_silent_meter_has_its_questions_on_the_tape(running: Start) -> None:
    bench = running(asking)
    device = bench.opener.plug()
    bench.session.wake()
    for _ in range(4):
        assert device.read(PATIENCE_S)
        bench.clock.advance(1)
        bench.session.wake()
    offsets = [bench.next(lambda b: b.sent).sent for _ in range(3)]
    assert [chunk.offset for chunk in offsets if chunk] == [0, 2, 4]
    (notice,) = bench.facts(1)
    assert isinstance(notice, Notice)
    assert notice.kind is NoticeKind.TROUBLE


# -- taking a reading --------------------------------------------------------------------------


def test_taking_a_reading_sends_the_command_from_the_sessions_own_thread(running: Start) -> None:
    bench = running(asking)
    assert bench.session.take() is False
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    assert device.read(PATIENCE_S) == b"S\r"
    assert bench.session.take() is True
    assert device.read(PATIENCE_S) == b"M\r"


def test_a_meter_with_a_button_only_cannot_be_asked(running: Start) -> None:
    bench = running(pressing)
    bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    with pytest.raises(Refused, match="press the button of shore"):
        bench.session.take()


def test_a_reading_asked_for_before_the_link_was_lost_is_not_taken_after_it(
    running: Start,
) -> None:
    bench = running(asking)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.cut()
    bench.next(lambda b: b.disconnected)
    assert bench.session.take() is False
    again = bench.opener.plug()
    bench.session.wake()
    assert again.read(PATIENCE_S) == b"S\r"
    again.write(b"S DK-2205\r")
    assert again.read(PATIENCE_S) == b"?\r"


# -- a recorder that does not keep up ----------------------------------------------------------


def test_what_the_recorder_cannot_take_is_a_gap_told_with_the_next_batch(running: Start) -> None:
    bench = running(unasked)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    bench.clock.advance(5)
    device.write(PRESS_1)
    bench.facts(1)
    bench.refusing = True
    since = bench.clock.now()
    for data in (b"B,SH-0417,1.4*5D\r\n", b"A,0004*69\r\n", b"I,SH-9999*53\r\n", PRESS_6):
        device.write(data)
    for _ in range(4):
        bench.refused.get(timeout=PATIENCE_S)
    until = bench.clock.advance(2)
    bench.refusing = False
    device.write(b"E,0007,LIFT*55\r\n")
    batch = bench.next(lambda b: b.gap)
    assert batch.gap is not None
    assert (batch.gap.since, batch.gap.until) == (since, until)
    assert batch.gap.lost_bytes == 18 + 11 + 14 + 22
    assert batch.received is not None
    assert batch.received.offset == 22 + 18 + 11 + 14 + 22
    # What ends a check is not lost with the bytes.
    assert [fact.kind for fact in batch.facts if isinstance(fact, Notice)] == [
        NoticeKind.POWER_UP,
        NoticeKind.ADJUSTED,
        NoticeKind.IDENTITY,
        NoticeKind.TROUBLE,
    ]
    device.write(PRESS_1)
    assert bench.next(lambda b: b.received).gap is None


def test_that_an_instrument_went_is_told_however_long_the_recorder_takes(running: Start) -> None:
    bench = running(pressing)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(PRESS_1)
    bench.next(lambda b: b.received)
    bench.refusing = True
    device.write(PRESS_2)
    assert bench.refused.get(timeout=PATIENCE_S).received is not None
    device.cut()
    for _ in range(2):  # it is tried again
        assert bench.refused.get(timeout=PATIENCE_S).disconnected is not None
    bench.refusing = False
    last = bench.next(lambda b: b.disconnected)
    assert last.gap is not None
    assert last.gap.lost_bytes == 22
