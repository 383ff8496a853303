"""The captures of the modbus family as tapes."""

from __future__ import annotations

import pytest

from acquire.driverapi.capture import worded
from acquire.driverapi.conformance import violations
from acquire.link.tape import replay
from drivers.modbus import FAMILY
from tests.captures import EVERY, Shelved, of_layout, profile
from tests.unit.tape_bench import heard_of, tape_of

_ANSWERED_AFTER_NS = 1_000_000
LAYOUTS = ("modbus-gloss", "modbus-force", "modbus-transmission")
OURS = [one for one in EVERY if one.profile in LAYOUTS]
# Where somebody asks for a reading, tests/flow/test_tape_bench.py plays the tape.
UNASKED = [one for one in OURS if not any(step.takes for step in one.capture.steps)]
EACH = pytest.mark.parametrize("one", OURS, ids=lambda one: one.capture.name)


def test_the_kit_is_told_that_bytes_mean_something_only_as_answers() -> None:
    captures = [one.capture for one in of_layout("modbus-gloss")]
    found = violations(FAMILY, profile("modbus-gloss"), captures)
    assert found
    assert all("with nobody asking due" in wrong for wrong in found)


@EACH
def test_a_tape_replayed_through_a_fresh_driver_gives_the_same_facts(one: Shelved) -> None:
    facts = replay(FAMILY.driver(profile(one.profile), "p"), tape_of(one, _ANSWERED_AFTER_NS)[0])
    assert tuple(map(worded, facts)) == one.capture.facts


@pytest.mark.parametrize("one", UNASKED, ids=lambda one: one.capture.name)
def test_a_whole_session_that_plays_a_tape_gives_the_same_facts(one: Shelved) -> None:
    tape = tape_of(one, _ANSWERED_AFTER_NS)[0]
    batches = heard_of(tape, lambda: FAMILY.driver(profile(one.profile), "p"))
    facts = [fact for batch in batches for fact in batch.facts]
    assert facts == replay(FAMILY.driver(profile(one.profile), "p"), tape)
