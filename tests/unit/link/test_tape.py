"""Tapes: recorded, kept, replayed through the driver that heard them with the same readings."""

from __future__ import annotations

import pytest

from acquire.clock import ManualClock
from acquire.driverapi.capture import worded
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link import memory_pair
from acquire.link.tape import (
    Passed,
    RecordingLink,
    Tape,
    TapeOpener,
    replay,
)
from acquire.model import Fact, Instant
from drivers.line import FAMILY
from tests.captures import CAPTURES, Shelved, profile
from tests.unit.tape_bench import heard_of, tape_of

OPENED = Instant(10**18, 10**12)


EACH = pytest.mark.parametrize("one", CAPTURES, ids=lambda one: one.capture.name)


@EACH
def test_a_tape_replayed_through_a_fresh_driver_gives_the_same_facts(one: Shelved) -> None:
    facts = replay(FAMILY.driver(profile(one.profile), "p"), tape_of(one)[0])
    assert tuple(map(worded, facts)) == one.capture.facts


@EACH
def test_a_whole_session_that_plays_a_tape_gives_the_same_facts_at_the_same_times(
    one: Shelved,
) -> None:
    tape = tape_of(one)[0]
    batches = heard_of(tape, lambda: FAMILY.driver(profile(one.profile), "p"))
    facts = [fact for batch in batches for fact in batch.facts]
    assert facts == replay(FAMILY.driver(profile(one.profile), "p"), tape)
    assert [(b.received.offset, b.received.data) for b in batches if b.received] == [
        (p.offset, p.data) for p in tape.passed if p.direction == "received"
    ]


def test_a_silence_on_a_tape_is_heard_again() -> None:
    """What the driver made of time alone depends on when it was asked, and that is on the tape."""
    clock = ManualClock()
    driver = FAMILY.driver(profile("gloss-asked"), "p")
    opened = clock.now()
    passed: list[Passed] = []
    heard: list[Fact] = []
    sent = received = 0

    def send(data: bytes) -> None:
        nonlocal sent
        if data:
            passed.append(Passed("sent", sent, clock.now(), data))
            sent += len(data)

    def hear(data: bytes) -> None:
        nonlocal received
        passed.append(Passed("received", received, clock.now(), data))
        received += len(data)
        heard.extend(driver.feed(data, clock.now()))

    send(driver.opening(opened))
    hear(b"S DK-2205\r")
    for _ in range(8):
        send(driver.due(clock.now()).send)
        clock.advance(1.0)
        heard += driver.feed(b"", clock.now())
    send(driver.take(clock.now()))
    hear(b"4 60   88,3 GU\r")
    heard += driver.lost(clock.now())
    tape = Tape(opened, "meter", tuple(passed))
    again = replay(FAMILY.driver(profile("gloss-asked"), "p"), tape)
    assert list(map(worded, again)) == list(map(worded, heard))
    told = ["identity", "trouble", "power-up", "identity", "reading"]
    assert [w.what for w in map(worded, again)] == told


def test_recording_changes_nothing_and_keeps_both_directions() -> None:
    bench, device = memory_pair("shore")
    clock = ManualClock()
    kept: list[Passed] = []
    link = RecordingLink(bench, clock, kept.append)
    link.write(b"I?\r\n")
    first = clock.now()
    clock.advance(1)
    device.write(b"I,SH-0417*51\r\n")
    device.write(b"\xff\x00")
    assert link.read(0.0) == b"I,SH-0417*51\r\n"
    assert link.read(0.0) == b"\xff\x00"
    assert link.read(0.0) == b""
    assert device.read(0.0) == b"I?\r\n"
    now = clock.now()
    assert kept == [
        Passed("sent", 0, first, b"I?\r\n"),
        Passed("received", 0, now, b"I,SH-0417*51\r\n"),
        Passed("received", 14, now, b"\xff\x00"),
    ]
    assert (link.where, link.adapter) == ("shore", "")
    link.cancel()
    assert link.read(10.0) == b""
    link.close()
    with pytest.raises(LinkLost, match="closed"):
        link.read(0.0)


def test_a_tape_is_played_once_and_then_over() -> None:
    opener = TapeOpener(Tape(OPENED, "shore", (Passed("received", 0, OPENED, b"x"),)))
    link = opener.open()
    assert link.read(0.0) == b"x"
    link.write(b"unheard")
    with pytest.raises(LinkLost, match="over"):
        link.read(0.0)
    link.close()
    with pytest.raises(LinkLost, match="closed"):
        link.write(b"x")
    with pytest.raises(LinkUnavailable, match="has been played"):
        opener.open()
