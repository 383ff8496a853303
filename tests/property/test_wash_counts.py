"""Washes, corrections, looks and restarts in any order, against a count kept by hand."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.errors import Refused
from acquire.settings import parse_plan
from acquire.trial.washes import counts_of
from tests.unit.worked_yard import PLAN, WorkedYard

ZONES = ("A1", "A2", "A3")
COUNTS = {"wash-5": 5, "wash-10": 10}

some_zones = st.lists(st.sampled_from(ZONES), max_size=3)
steps = st.one_of(
    st.tuples(st.just("wash"), some_zones, st.integers(1, 6)),
    st.tuples(st.just("correct"), some_zones, st.integers(-7, 3)),
    st.tuples(st.just("look"), st.sampled_from(ZONES), st.sampled_from(tuple(COUNTS))),
    st.tuples(st.just("restart"), st.none(), st.none()),
)


@settings(max_examples=6, deadline=None)
@given(st.lists(steps, min_size=4, max_size=14))
def test_counts_are_what_a_person_with_a_pencil_would_have(walk: list[tuple[str, ...]]) -> None:
    plan = parse_plan(PLAN, "t")
    pencil = dict.fromkeys(ZONES, 0)
    least = dict.fromkeys(ZONES, 0)
    looks = 0
    with tempfile.TemporaryDirectory() as folder:
        yard = WorkedYard(Path(folder))
        with contextlib.closing(yard):
            for what, which, by in walk:
                if what == "restart":
                    yard.restart()
                elif what == "look":
                    looks += 1
                    yard.call(
                        "rate", trial="quay-1", scale="water", stage=by, zone=which, step=1,
                        rater=f"rater {looks}",
                    )  # fmt: skip
                    least[which] = max(least[which], COUNTS[by])
                elif what == "wash":
                    yard.call("wash", trial="quay-1", zones=which, washes=by)
                    for zone in set(which) or ZONES:
                        pencil[zone] += by
                else:
                    after = {z: pencil[z] + by for z in set(which) or ZONES}
                    is_allowed = by > 0 or (by < 0 and all(n >= least[z] for z, n in after.items()))
                    try:
                        yard.call(
                            "correct_washes", trial="quay-1", zones=which, washes=by, reason="slip"
                        )
                    except Refused:
                        assert not is_allowed
                    else:
                        assert is_allowed
                        pencil |= after
                assert counts_of(plan, yard.washes()) == pencil
