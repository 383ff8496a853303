"""No order of events, under any policy, lets a reading count that the rules do not allow.

The machine does whatever can happen at a bench, by policies with every kind of ending, and holds
the desk and its store against an oracle that was written from the rules alone (``tests/gate``): at
each reading, and after each run the whole store: what counts, brackets, every check judged again,
every seal. The same walk must find each desk from which one rule was taken out.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from acquire.errors import StoreUnwritable
from tests.gate.sabotage import SABOTAGES
from tests.gate.walk import OPS, POLICIES, Walker, do, walk
from tests.gate.world import WIDE

SEEDS = (0, 7, 6, 10, 2, 9, 1, 3, 4, 5, 8, 11)
"""Those first that find most of the sabotaged desks soonest."""
STEPS = 60


def _op(name: str) -> st.SearchStrategy[tuple[str, tuple[object, ...]]]:
    choices = (st.sampled_from(list(one)) for one in OPS[name][1])
    return st.tuples(st.just(name), st.tuples(*choices))


# Each as often as in the table.
_ANY = st.sampled_from([name for name, (often, _) in OPS.items() for _ in range(often)])


class PolicyMachine(RuleBasedStateMachine):
    """A bench under any policy, in any hand."""

    @initialize(name=st.sampled_from(sorted(POLICIES)), presses=st.integers(0, 3))
    def set_up(self, name: str, presses: int) -> None:
        self._folder = tempfile.TemporaryDirectory()
        self.world = Walker(Path(self._folder.name), POLICIES[name])
        self.world.get_going(WIDE, presses)

    @rule(op=_ANY.flatmap(_op))
    def something_happens(self, op: tuple[str, tuple[object, ...]]) -> None:
        do(self.world, *op)

    def teardown(self) -> None:
        if hasattr(self, "world"):
            try:
                self.world.hold_all()
            finally:
                self.world.close()
                self._folder.cleanup()


PolicyMachine.TestCase.settings = settings(
    max_examples=int(os.environ.get("COATBENCH_EXAMPLES", "30")),
    stateful_step_count=40,
    deadline=None,
    derandomize=True,
)
TestEveryPolicyUnderAHostileHand = PolicyMachine.TestCase


@pytest.mark.parametrize("policy", sorted(POLICIES))
def test_a_walk_under_a_policy_finds_the_desk_and_the_oracle_of_one_mind(
    policy: str, tmp_path: Path
) -> None:
    for seed in range(1000, 1002):
        folder = tmp_path / str(seed)
        folder.mkdir()
        walk(folder, POLICIES[policy], seed, STEPS)


@pytest.mark.parametrize("name", sorted(SABOTAGES))
def test_a_desk_without_one_of_its_rules_is_found_out(name: str, tmp_path: Path) -> None:
    policy, sabotage = SABOTAGES[name]
    for seed in SEEDS:
        folder = tmp_path / str(seed)
        folder.mkdir()
        try:
            walk(folder, POLICIES[policy], seed, STEPS, sabotage)
        except (AssertionError, StoreUnwritable):
            # The oracle saw it, or the guards of the database did.
            return
    pytest.fail(f"{len(SEEDS)} walks found nothing amiss with a desk that has {name}")
