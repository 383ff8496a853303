"""By which scatter a plan is made: what the last trials of the bench showed, where no study was."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.scatters import scatters_of
from acquire.cli.trial.proposing import proposals
from acquire.store import StoreReader
from acquire.study.pasttrials import past_scatter
from acquire.trial.answers import measured
from tests.unit.reported import small
from tests.yard import Yard


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Yard:
    """Four cells of three readings, each with a standard deviation of 0.1."""
    found = small(tmp_path_factory.mktemp("past"))
    found.close()
    return found


def test_the_scatter_of_the_last_trials_is_found_in_the_store(yard: Yard) -> None:
    with StoreReader(yard.bench.store) as store:
        found = past_scatter(store, "SH-0417", "20")
        assert found.readings == (pytest.approx(0.1), 8)
        # One zone a product says nothing of zones.
        assert (found.zones, found.trials) == (None, ("small",))
        assert past_scatter(store, "SH-0417", "60").readings is None
        assert past_scatter(store, "no such", "20").trials == ()


def test_a_plan_goes_by_it_and_says_so(yard: Yard) -> None:
    with scatters_of(yard.bench) as scatters:
        known = scatters.of(yard.bench.instruments[0], "20", "gloss_unit")
    assert (known.sd, known.nu) == (pytest.approx(0.1), 8)
    assert "readings of small scattered by 0.10 GU (8 degrees of freedom)" in known.said
    assert "not known on this bench" in known.zones_said

    # The other meter has read no trial, and its default is no figure of anything.
    gloss = measured("gloss-20")
    found = proposals(yard.bench, [gloss], {"gloss-20": Decimal(2)}, None, 2)["gloss-20"]
    assert "gloss-20 with shore: " in found.lines[0]
    assert "readings of small scattered by 0.10 GU" in found.lines[0]


def test_without_a_bench_a_plan_is_made_by_habit_and_that_is_said(tmp_path: Path) -> None:
    found = proposals(None, [measured("slickness")], {}, None, 2)["slickness"]
    assert (found.zones, found.readings) == (3, 5)
    assert "by habit, and by no figure" in found.lines[0]
