"""The captures of the modbus family as tapes."""

from __future__ import annotations

import pytest

from acquire.driverapi.capture import worded
from acquire.driverapi.conformance import START, violations
from acquire.link.tape import Passed, Tape, replay
from acquire.model import Instant
from drivers.modbus import FAMILY
from tests.captures import EVERY, Shelved, of_layout, profile
from tests.unit.tape_bench import heard_of

LAYOUTS = ("modbus-gloss", "modbus-force", "modbus-transmission")
OURS = [one for one in EVERY if one.profile in LAYOUTS]
EACH = pytest.mark.parametrize("one", OURS, ids=lambda one: one.capture.name)


def tape_of(one: Shelved) -> Tape:
    """A capture as a tape: each answer comes a millisecond after its request."""
    at, passed = START, []
    sent = received = 0
    for step in one.capture.steps:
        ns = round(step.after_s * 1e9)
        at = Instant(at.utc_ns + ns, at.mono_ns + ns)
        if step.sent:
            passed.append(Passed("sent", sent, at, step.sent))
        if step.received:
            later = Instant(at.utc_ns + 1_000_000, at.mono_ns + 1_000_000)
            passed.append(Passed("received", received, later, step.received))
        sent += len(step.sent)
        received += len(step.received)
    return Tape(START, one.capture.name, tuple(passed))


def test_the_kit_is_told_that_bytes_mean_something_only_as_answers() -> None:
    captures = [one.capture for one in of_layout("modbus-gloss")]
    found = violations(FAMILY, profile("modbus-gloss"), captures)
    assert found
    assert all("with nobody asking due" in wrong for wrong in found)


@EACH
def test_a_tape_replayed_through_a_fresh_driver_gives_the_same_facts(one: Shelved) -> None:
    facts = replay(FAMILY.driver(profile(one.profile), "p"), tape_of(one))
    assert tuple(map(worded, facts)) == one.capture.facts


@EACH
def test_a_whole_session_that_plays_a_tape_gives_the_same_facts(one: Shelved) -> None:
    if any(step.takes for step in one.capture.steps):
        pytest.skip("a session that plays a tape has nobody who asks it to take a reading")
    tape = tape_of(one)
    batches = heard_of(tape, lambda: FAMILY.driver(profile(one.profile), "p"))
    facts = [fact for batch in batches for fact in batch.facts]
    assert facts == replay(FAMILY.driver(profile(one.profile), "p"), tape)
