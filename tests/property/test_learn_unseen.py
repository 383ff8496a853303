"""What no press has shown is never read as a value: meters with a state that their presses hide.

Read as a value is what counts: after a check, and before anything has ended it, as
`tests.learning.trap` says. ``COATBENCH_EXAMPLES`` draws more of each.
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import Outcome
from tests.learning.trap import Trap, use
from tests.learning.traps_binary import BINARIES
from tests.learning.traps_press import PRESSES
from tests.learning.traps_state import STATES
from tests.learning.traps_text import TEXTS

TRAPS = BINARIES | PRESSES | STATES | TEXTS
METERS = max(5, int(os.environ.get("COATBENCH_EXAMPLES", "0")) // 20)


@pytest.mark.parametrize("name", TRAPS)
def test_no_state_that_was_not_shown_is_read_as_a_number(name: str) -> None:
    registry = Registry()
    used = [use(TRAPS[name], f"{name} {number}", registry) for number in range(METERS)]
    assert not [one.wrong for one in used if one.wrong]
    # Or else there would be nothing that could have been wrong.
    assert any(one.found.outcome is Outcome.SURE and one.read for one in used)


def test_a_wrong_value_whose_count_goes_on_is_found_out() -> None:
    trap = BINARIES["a status of zeros behind a count"]
    spy = replace(trap, fail=lambda v, n, r: [b"\xaa\x55" + bytes([n & 0xFF, 0]) + b"\x90\x03"])
    used = use(spy, "spy", Registry())
    assert "count = {" in used.found.profile
    assert "is read as" in used.wrong


def test_a_reading_of_a_failed_press_is_found_out() -> None:
    spy: Trap = replace(BINARIES["codes in int16"], fail=lambda v, n, r: [b"\xa5\x01\x01\xc4\x03"])
    assert "is read as" in use(spy, "spy", Registry()).wrong
