"""A driver cannot hurt the bench: whatever it does is named, contained, and loses no bytes."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from acquire.clock import ManualClock
from acquire.driverapi import Driver, Due, LinkNeeds, Parity
from acquire.driverapi.fit import misfit, misfit_needs
from acquire.driverapi.guard import Guard
from acquire.errors import DriverError, Refused
from acquire.link.memory import MemoryOpener
from acquire.model import (
    Batch,
    Fact,
    Flag,
    IncidentKind,
    Instant,
    Noise,
    Notice,
    NoticeKind,
    Quantity,
    Reading,
    Samples,
)
from acquire.pipeline.session import Fittings, Session
from acquire.pipeline.watch import HANGS_AFTER_S, Watch
from tests.patience import PATIENCE_S
from tests.unit.session.test_life import (
    PRESS_1,
    PRESS_2,
    Bench,
    Start,
    running,
    unasked,
)

__all__ = ["running"]

AT = Instant(10**18, 10**12)
GOOD = Reading(
    Quantity.GLOSS, "20", Decimal("91.4"), "gloss_unit", "91.4", AT, b"91.4", 0, 4, 1, frozenset()
)


class Odd:
    """The real driver with one call replaced."""

    def __init__(self, call: str, instead: Callable[..., Any]) -> None:
        self._real = unasked()
        self._call = call
        self._instead = instead

    def _do(self, call: str, *arguments: Any) -> Any:
        return (self._instead if call == self._call else getattr(self._real, call))(*arguments)

    def opening(self, at: Instant) -> bytes:
        return self._do("opening", at)  # type: ignore[no-any-return]

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return self._do("feed", data, at)  # type: ignore[no-any-return]

    def due(self, now: Instant) -> Due:
        return self._do("due", now)  # type: ignore[no-any-return]

    def take(self, at: Instant) -> bytes:
        return self._do("take", at)  # type: ignore[no-any-return]

    def lost(self, at: Instant) -> list[Fact]:
        return self._do("lost", at)  # type: ignore[no-any-return]


def stumble(*_: object) -> Any:
    raise KeyError("stumbled")


class Mute(Exception):
    """An exception that cannot be shown, and takes whoever tries down with it."""

    def __str__(self) -> str:
        raise SystemExit(3)

    __repr__ = __str__


def raising(error: BaseException) -> Callable[..., Any]:
    def call(*_: object) -> Any:
        raise error

    return call


ENDINGS: list[BaseException] = [
    SystemExit(3),
    KeyboardInterrupt(),
    GeneratorExit(),
    MemoryError(),
    RecursionError(),
    Mute(),
    ValueError("x" * 50_000_000),
    ValueError("half \ud800"),
]

ODDITIES: list[tuple[str, Callable[..., Any]]] = [
    ("feed", stumble),
    ("feed", lambda data, at: None),
    ("feed", lambda data, at: (GOOD,)),
    ("feed", lambda data, at: ["91.4"]),
    ("feed", lambda data, at: [GOOD._replace(value=91.4)]),
    ("feed", lambda data, at: [GOOD._replace(start=10_000, end=10_004)]),
]


@pytest.mark.parametrize(("call", "instead"), ODDITIES)
def test_a_driver_that_fails_on_bytes_is_named_with_them_and_they_are_kept(
    running: Start, call: str, instead: Callable[..., Any]
) -> None:
    bench = running(lambda: Odd(call, instead))
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(PRESS_1)
    batch = bench.next(lambda b: b.received)
    assert batch.received is not None
    assert batch.received.data == PRESS_1
    (noise,) = batch.facts
    assert isinstance(noise, Noise)
    assert noise.raw == PRESS_1
    last = bench.next(lambda b: b.disconnected)
    (incident,) = last.incidents
    assert incident.kind is IncidentKind.DRIVER_FAILED
    assert "the driver line failed" in incident.message
    assert "R,0001,20,91.4,GU*51" in incident.message
    assert "Next: report it" in incident.message


NAME = b"I,S-1\r\n"


class Holds(Odd):
    """Makes nothing of a press until its meter has told its name, and then fails."""

    def __init__(self, call: str) -> None:
        super().__init__("lost", lambda at: [])
        self._fails_in = call
        self._holds = False

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        if self._fails_in == "feed" and data == NAME:
            stumble()
        self._holds = self._holds or bool(data)
        return []

    def due(self, now: Instant) -> Due:
        if self._fails_in == "due" and self._holds:
            stumble()
        return super().due(now)


@pytest.mark.parametrize(("call", "further"), [("feed", NAME), ("due", b"")])
def test_a_reading_that_a_driver_held_as_it_failed_is_kept_as_noise_of_its_bytes(
    running: Start, call: str, further: bytes
) -> None:
    bench = running(lambda: Holds(call))
    device = bench.opener.plug()
    bench.session.wake()
    device.write(PRESS_1)
    assert bench.next(lambda b: b.received).facts == ()
    if further:
        device.write(further)
    (noise,) = bench.facts(1)
    assert isinstance(noise, Noise)
    assert noise.raw == PRESS_1 + further
    assert (noise.start, noise.end) == (0, len(noise.raw))
    assert noise.reason == "the driver failed before it had given what these bytes mean"
    last = bench.next(lambda b: b.disconnected) if call == "feed" else None
    assert last is None or last.facts == (), "what was told is not told twice"


def test_of_a_stream_that_a_driver_held_as_it_failed_every_byte_is_kept(running: Start) -> None:
    bench = running(lambda: Holds("feed"))
    device = bench.opener.plug()
    bench.session.wake()
    sent = b"%06d\r\n" * 1200 % tuple(range(1200))
    device.write(sent)
    bench.next(lambda b: b.received)
    device.write(NAME)
    noise = bench.facts(3)
    assert b"".join(one.raw for one in noise if isinstance(one, Noise)) == sent + NAME
    assert [one.start for one in noise] == [0, *(one.end for one in noise[:-1])]


@pytest.mark.parametrize("error", ENDINGS, ids=lambda error: type(error).__name__)
@pytest.mark.parametrize("call", ["opening", "due", "feed", "lost"])
def test_nothing_that_a_driver_raises_ends_its_session(
    running: Start, call: str, error: BaseException
) -> None:
    bench = running(lambda: Odd(call, raising(error)))
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    if call == "feed":
        device.write(PRESS_1)
    elif call == "lost":
        device.cut()
    last = bench.next(lambda b: b.disconnected)
    (incident,) = last.incidents
    assert incident.kind is IncidentKind.DRIVER_FAILED
    assert type(error).__name__ in incident.message
    assert len(incident.message.encode()) < 3000


@pytest.mark.parametrize(
    ("call", "instead"),
    [
        ("opening", stumble),
        ("opening", lambda at: "I?"),
        ("due", stumble),
        ("due", lambda now: None),
        ("due", lambda now: Due("?", None)),  # type: ignore[arg-type]
        ("due", lambda now: Due(b"", 5.0)),  # type: ignore[arg-type]
        ("due", lambda now: Due(b"", Instant("soon", "later"))),  # type: ignore[arg-type]
        ("due", lambda now: Due(b"", Instant(10**400, 10**400))),
        ("due", lambda now: Due(b"", Instant(1.5, 2.5))),  # type: ignore[arg-type]
    ],
)
def test_a_driver_that_fails_before_any_bytes_is_named(
    running: Start, call: str, instead: Callable[..., Any]
) -> None:
    bench = running(lambda: Odd(call, instead))
    bench.opener.plug()
    bench.session.wake()
    last = bench.next(lambda b: b.disconnected)
    assert [i.kind for i in last.incidents] == [IncidentKind.DRIVER_FAILED]


@pytest.mark.parametrize("instead", [stumble, lambda at: None, lambda at: [GOOD]])
def test_a_driver_that_fails_at_the_end_is_named(
    running: Start, instead: Callable[..., Any]
) -> None:
    bench = running(lambda: Odd("lost", instead))
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.cut()
    last = bench.next(lambda b: b.disconnected)
    assert [i.kind for i in last.incidents] == [IncidentKind.DRIVER_FAILED]
    assert last.facts == ()


def test_a_driver_that_cannot_be_made_is_told_once_and_tried_again(running: Start) -> None:
    made: list[Driver] = []

    def make() -> Driver:
        if not made:
            made.append(unasked())
            raise RuntimeError("no driver today")
        return unasked()

    bench = running(make)
    first = bench.opener.plug()
    bench.opener.plug()
    bench.session.wake()
    (incident,) = bench.next(
        lambda b: b.incidents and b.incidents[0].kind is IncidentKind.DRIVER_FAILED
    ).incidents
    assert "no driver today" in incident.message
    bench.session.wake()
    bench.next(lambda b: b.connected)
    with pytest.raises(Exception, match="closed"):
        first.write(b"x")


def test_after_a_failed_driver_a_fresh_one_takes_over(running: Start) -> None:
    made: list[Driver] = []

    def make() -> Driver:
        made.append(Odd("feed", stumble) if len(made) < 2 else unasked())
        return made[-1]

    bench = running(make)
    device = bench.opener.plug()
    again = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(PRESS_1)
    bench.next(lambda b: b.disconnected)
    bench.session.wake()
    assert bench.next(lambda b: b.connected).connection == 2
    bench.clock.advance(5)
    again.write(PRESS_2)
    (reading,) = bench.facts(1)
    assert isinstance(reading, Reading)


def test_a_driver_that_always_wants_to_be_asked_does_not_stop_the_others(running: Start) -> None:
    busy: Bench = running(lambda: Odd("due", lambda now: Due(b"", now)))
    device = busy.opener.plug()
    busy.session.wake()
    busy.next(lambda b: b.connected)
    busy.clock.advance(5)
    device.write(PRESS_1)
    (reading,) = busy.facts(1)
    assert isinstance(reading, Reading)


@pytest.mark.parametrize(
    "wrong",
    [
        "text",
        GOOD._replace(raw="91.4"),
        GOOD._replace(raw=b"91.40"),
        GOOD._replace(start=None),
        GOOD._replace(at=12.0),
        GOOD._replace(at=Instant("now", "then")),  # type: ignore[arg-type]
        GOOD._replace(at=Instant(10**400, 10**12)),
        GOOD._replace(at=Instant(-1, 10**12)),
        GOOD._replace(value=None),
        GOOD._replace(value=91.4),
        GOOD._replace(value=Decimal("NaN")),
        GOOD._replace(value=Decimal("Infinity")),
        GOOD._replace(value=Decimal("1e400")),
        GOOD._replace(value=Decimal("1" * 41)),
        GOOD._replace(flags={Flag.ECHO}),
        GOOD._replace(flags=frozenset({"echo"})),
        GOOD._replace(flags=frozenset({Flag.OVER_RANGE})),
        GOOD._replace(quantity="gloss"),
        GOOD._replace(press=-1),
        GOOD._replace(press=2**63),
        GOOD._replace(press=True),
        GOOD._replace(unit=None),
        GOOD._replace(channel=20),
        GOOD._replace(text="\ud800"),
        GOOD._replace(text="9" * 5000),
        Noise(AT, b"x", 0, 1, None),  # type: ignore[arg-type]
        Notice("power-up", AT, b"x", 0, 1),  # type: ignore[arg-type]
        Notice(NoticeKind.IDENTITY, AT, b"x", 0, 1, b"x"),  # type: ignore[arg-type]
    ],
)
def test_what_could_hurt_the_recorder_is_no_fact(wrong: object) -> None:
    assert misfit(wrong) != ""


def test_sound_facts_are_let_through() -> None:
    for fact in (
        GOOD,
        GOOD._replace(value=None, flags=frozenset({Flag.OVER_RANGE, Flag.REPEAT})),
        GOOD._replace(press=None, text="−91,4 é"),
        Noise(AT, b"x", 0, 1, "because"),
        Notice(NoticeKind.POWER_UP, AT, b"", 3, 3),
    ):
        assert misfit(fact) == ""


def test_facts_must_follow_one_another_within_what_was_received() -> None:
    guard = Guard("line", AT)
    guard.facts([GOOD], b"91.4", AT)
    with pytest.raises(DriverError, match="after 4 and within 10"):
        guard.facts([GOOD], b"91.400", AT)
    later = GOOD._replace(start=4, end=8)
    assert guard.facts([later], b"", AT) == [later]
    with pytest.raises(DriverError, match="the driver line gave"):
        guard.facts([GOOD._replace(start=8, end=12)], b"", AT)


def test_a_fact_may_lie_between_two_chunks_and_at_no_moment_that_never_was() -> None:
    guard = Guard("line", AT)
    later = Instant(AT.utc_ns + 2 * 10**9, AT.mono_ns + 2 * 10**9)
    between = Instant(AT.utc_ns + 10**9, AT.mono_ns + 10**9)
    assert guard.facts([GOOD._replace(at=between)], b"91.491.4", later)
    for never in (
        Instant(AT.utc_ns - 10**9, AT.mono_ns - 10**9),  # before the line was opened
        Instant(later.utc_ns + 1, later.mono_ns + 1),  # not yet
        Instant(AT.utc_ns - 3600 * 10**9, between.mono_ns),  # another time of day
    ):
        with pytest.raises(DriverError, match="a moment it was never given"):
            guard.facts([GOOD._replace(start=4, end=8, at=never)], b"", later)


@pytest.mark.parametrize("error", ENDINGS, ids=lambda error: type(error).__name__)
def test_a_family_that_gives_no_driver_is_told_and_its_instrument_can_not_be_asked(
    error: BaseException,
) -> None:
    batches: list[Batch] = []
    session = Session(
        "shore",
        raising(error),
        lambda batch, timeout_s: batches.append(batch) is None,
        ManualClock(),
        "line",
    )
    session.run()
    assert session.is_fitted.is_set()
    assert type(error).__name__ in session.unfit
    ((incident,),) = (batch.incidents for batch in batches)
    assert incident.kind is IncidentKind.DRIVER_FAILED
    with pytest.raises(Refused, match="mend that, then start coatbench serve again"):
        session.take()


def test_needs_that_no_link_has_are_named() -> None:
    assert misfit_needs(LinkNeeds()) == ""
    assert misfit_needs(LinkNeeds(115_200, 7, Parity.EVEN, 1.5, True, 0.5)) == ""
    for wrong in (
        None,
        LinkNeeds(baud_rate="fast"),  # type: ignore[arg-type]
        LinkNeeds(baud_rate=0),
        LinkNeeds(data_bits=9),
        LinkNeeds(parity="none"),  # type: ignore[arg-type]
        LinkNeeds(stop_bits=float("nan")),
        LinkNeeds(flow_control=1),  # type: ignore[arg-type]
        LinkNeeds(write_timeout_s=None),  # type: ignore[arg-type]
    ):
        assert misfit_needs(wrong) != ""


def test_a_driver_that_does_not_come_back_is_named_once_and_so_is_its_return(
    running: Start,
) -> None:
    entered, gate = threading.Event(), threading.Event()

    def hang(data: bytes, at: Instant) -> list[Fact]:
        entered.set()
        gate.wait(PATIENCE_S)
        return []

    bench = running(lambda: Odd("feed", hang))
    told: list[Batch] = []
    watch = Watch(
        {"shore": bench.session},
        {"shore": "line"},
        lambda batch, timeout_s: told.append(batch) is None,
    )
    device = bench.opener.plug()
    bench.session.wake()
    device.write(PRESS_1)
    assert entered.wait(PATIENCE_S)
    watch.look(bench.clock.now())
    assert told == []
    for _ in range(3):
        watch.look(bench.clock.advance(HANGS_AFTER_S))
    ((incident,),) = (batch.incidents for batch in told)
    assert incident.kind is IncidentKind.DRIVER_HANGS
    assert "the driver line has not come back from feed()" in incident.message
    assert "Next: stop coatbench serve and start it again" in incident.message
    assert watch.hanging("shore") == "the driver line has not come back from feed()"
    gate.set()
    bench.next(lambda b: b.received)
    watch.look(bench.clock.advance(1))
    assert "has come back after 16 s" in told[1].incidents[0].message
    watch.look(bench.clock.advance(100))
    assert len(told) == 2


def test_readings_of_one_frame_share_its_bytes_and_nothing_else_does() -> None:
    guard = Guard("line", AT)
    other = GOOD._replace(channel="60")
    noise = Noise(AT, GOOD.raw, 0, 4, "because")
    assert guard.facts([GOOD, other], b"91.4", AT) == [GOOD, other]
    with pytest.raises(DriverError, match="a fact from 0 to 4"):
        guard.facts([other], b"", AT)
    for wrong in ([GOOD, noise], [noise, GOOD]):
        fresh = Guard("line", AT)
        with pytest.raises(DriverError, match="a fact from 0 to 4"):
            fresh.facts(wrong, b"91.4", AT)


def test_what_a_driver_says_of_bytes_must_be_the_bytes_that_came() -> None:
    forged = GOOD._replace(raw=b"99.9", text="99.9", value=Decimal("99.9"))
    with pytest.raises(DriverError, match="which is not what came from 0 on"):
        Guard("line", AT).facts([forged], b"91.4", AT)


def test_one_press_is_one_reading_a_channel() -> None:
    with pytest.raises(DriverError, match="two readings of channel '20' of one frame"):
        Guard("line", AT).facts([GOOD, GOOD], b"91.4", AT)


def test_a_reading_without_bytes_is_none_but_behind_samples() -> None:
    bare = GOOD._replace(raw=b"", start=4, end=4)
    samples = Samples(
        Quantity.GLOSS, "20", "gloss_unit", Decimal("0.1"), Decimal(10), 0, bytes(8), AT, 0, 4
    )
    assert len(Guard("line", AT).facts([samples, bare], b"91.4", AT)) == 2
    with pytest.raises(DriverError, match="a reading of no bytes"):
        Guard("line", AT).facts([bare], b"91.4", AT)
    with pytest.raises(DriverError, match=r"two readings|a reading of no bytes"):
        Guard("line", AT).facts([samples, bare, bare], b"91.4", AT)


@pytest.mark.parametrize(("start", "end"), [(0, -(10**30)), (4, 0), (-4, 0), (0, 10**30)])
def test_samples_take_no_bytes_back(start: int, end: int) -> None:
    samples = Samples(
        Quantity.GLOSS, "20", "gloss_unit", Decimal("0.1"), Decimal(10), 0, bytes(8), AT, start, end
    )
    guard = Guard("line", AT)
    guard.facts([GOOD], b"91.4", AT)
    with pytest.raises(DriverError):
        guard.facts([samples], b"91.4", AT)


def test_an_instrument_measures_what_the_bench_says() -> None:
    guard = Guard("line", AT, Quantity.FORCE)
    with pytest.raises(DriverError, match="gloss of an instrument for force"):
        guard.facts([GOOD], b"91.4", AT)


def test_more_facts_than_bytes_are_refused() -> None:
    notices: list[Fact] = [Notice(NoticeKind.TROUBLE, AT, b"", 0, 0, "x")] * 2000
    with pytest.raises(DriverError, match="2000 facts of 4 bytes"):
        Guard("line", AT).facts(notices, b"91.4", AT)


def test_bytes_of_long_ago_make_no_reading() -> None:
    guard = Guard("line", AT)
    guard.facts([], bytes(5 << 20), AT)
    old = GOOD._replace(raw=bytes(4))
    with pytest.raises(DriverError, match="not what came"):
        guard.facts([old], b"", AT)


@pytest.mark.parametrize("channel", ["\x1b[2Jevil", "x" * 65])
def test_a_channel_is_a_word(channel: str) -> None:
    assert "which is no word of ours" in misfit(GOOD._replace(channel=channel))


def test_a_driver_that_loads_slowly_is_waited_for_and_used_when_it_is_there() -> None:
    gate = threading.Event()
    clock = ManualClock()
    batches: queue.Queue[Batch] = queue.Queue()
    opener = MemoryOpener()
    opener.plug()

    def fit() -> Fittings:
        gate.wait(PATIENCE_S)
        return Fittings(opener, lambda: Odd("feed", lambda data, at: []))

    session = Session("shore", fit, lambda batch, timeout_s: batches.put(batch) is None, clock, "l")
    thread = threading.Thread(target=session.run)
    thread.start()
    try:
        while session.inside is None:
            pass
        told: list[Batch] = []
        watch = Watch(
            {"shore": session}, {"shore": "l"}, lambda batch, timeout_s: told.append(batch) is None
        )
        watch.look(clock.advance(HANGS_AFTER_S))
        message = told[0].incidents[0].message
        assert "Next: wait, shore is opened as soon as its driver is loaded" in message
        gate.set()
        assert batches.get(timeout=PATIENCE_S).connected is not None
    finally:
        gate.set()
        session.stop()
        thread.join(PATIENCE_S)
