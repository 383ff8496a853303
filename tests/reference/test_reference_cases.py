"""The analysis against figures published or computed outside the project, each with its source."""

from __future__ import annotations

from collections import Counter

import pytest

from acquire.verify.answering import answer_of
from acquire.verify.calcs import CALCS
from acquire.verify.casefile import Case
from acquire.verify.verifying import Verdict, task_of, verify_case
from tests.reference.shipped import CASES, ENTRIES, FILES

# How many cases there are, so that a file or line that gets lost is missed.
EXPECTED = {
    "bracketing": 14,
    "checks": 1,
    "control": 17,
    "decision": 12,
    "durability": 21,
    "friction": 36,
    "gloss": 55,
    "history": 2,
    "plan": 3,
    "precision": 26,
    "ranking": 15,
    "ratings": 11,
    "stats": 92,
    "transmission": 84,
    "uncertainty": 12,
    "units": 16,
    "water": 3,
}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_the_calculation_agrees_with_its_source(case: Case) -> None:
    found = verify_case(case, answer_of(task_of(case)))
    astray = [one for one in found.compared if not one.agrees]
    assert found.verdict is Verdict.AGREES, (case.quantity, case.source, astray, found.why)


def test_every_file_is_whole_and_every_case_there_and_none_twice() -> None:
    assert [(file.path.name, file.fault) for file in FILES if file.fault] == []
    assert [entry.faults for entry in ENTRIES if entry.faults] == []
    assert Counter(case.area for case in CASES) == EXPECTED
    assert [i for i, n in Counter(c.id for c in CASES).items() if n > 1] == []


def test_every_calculation_on_offer_is_held_against_a_case() -> None:
    assert set(CALCS) == {c.calc for c in CASES}


def test_every_case_names_its_source_and_says_how_sure_it_is() -> None:
    for case in CASES:
        assert case.status.split(" (")[0] in {"VERIFIED", "MEMORY", "DERIVED", "COMPUTED"}
        if case.status == "MEMORY":
            assert "from memory" in case.source
