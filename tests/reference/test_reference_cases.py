"""The analysis against figures published or computed outside the project, each with its source."""

from __future__ import annotations

import copy
from collections import Counter
from dataclasses import replace

import pytest

from tests.reference.calcs import CALCS
from tests.reference.casefile import FOLDER, Case, faults, read

CASES = [case for path in sorted(FOLDER.glob("*.json")) for case in read(path)]

# How many cases there are, so that a file or line that gets lost is missed.
EXPECTED = {
    "bracketing": 14,
    "checks": 1,
    "control": 17,
    "durability": 20,
    "friction": 35,
    "gloss": 53,
    "history": 6,
    "plan": 3,
    "precision": 22,
    "ranking": 7,
    "ratings": 9,
    "stats": 82,
    "transmission": 77,
    "uncertainty": 11,
    "units": 5,
    "water": 3,
}


def by_id(case_id: str) -> Case:
    return next(c for c in CASES if c.id == case_id)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_the_calculation_agrees_with_its_source(case: Case) -> None:
    assert faults(case, CALCS) == [], f"{case.quantity} ({case.source})"


def test_every_case_is_there_and_none_twice() -> None:
    assert Counter(c.calc.split(".")[0] for c in CASES) == EXPECTED
    assert [i for i, n in Counter(c.id for c in CASES).items() if n > 1] == []


def test_every_calculation_on_offer_is_held_against_a_case() -> None:
    assert set(CALCS) == {c.calc for c in CASES}


def test_every_case_names_its_source_and_says_how_sure_it_is() -> None:
    for case in CASES:
        assert case.source
        assert case.status.split(" (")[0] in {"VERIFIED", "MEMORY", "DERIVED", "COMPUTED"}
        if case.status == "MEMORY":
            assert "from memory" in case.source


def test_a_case_of_an_unknown_calculation_fails() -> None:
    unknown = replace(CASES[0], calc="stats.oracle")
    assert faults(unknown, CALCS) == ["stats.oracle is not known: the case was not run"]


def test_a_case_that_expects_nothing_fails() -> None:
    assert faults(replace(CASES[0], expected={}), CALCS) != []


def test_a_quantity_without_an_answer_fails() -> None:
    case = by_id("POOLED-SD")
    assert "no answer" in faults(replace(case, expected={"weight": 1.0}), CALCS)[0]


def test_a_figure_just_outside_its_tolerance_fails() -> None:
    case = by_id("POOLED-SD")
    off = dict(copy.deepcopy(case.expected))
    off["s_pooled"] += 2e-7
    assert len(faults(replace(case, expected=off), CALCS)) == 1


def test_a_figure_without_a_tolerance_fails() -> None:
    case = by_id("POOLED-SD")
    assert len(faults(replace(case, tolerance={}), CALCS)) == len(case.expected)


def test_not_a_number_never_passes() -> None:
    case = by_id("gloss-inverse-60-92.0")
    assert faults(case, {case.calc: lambda _: {"n": float("nan")}}) != []


def test_a_word_is_not_a_number_and_a_truth_is_not_a_one() -> None:
    case = by_id("gloss-checktile-1")
    assert faults(case, {case.calc: lambda _: {"difference": "0.8", "pass": 1}}) != []
    assert len(faults(case, {case.calc: lambda _: {"difference": "0.8", "pass": 1}})) == 2


def test_nothing_is_no_figure_and_no_figure_is_nothing() -> None:
    case = by_id("wash-crossing-3")
    assert faults(case, {case.calc: lambda _: {"cycles_at_threshold": 0.0}}) != []
    case = by_id("gloss-inverse-60-92.0")
    assert faults(case, {case.calc: lambda _: {"n": None}}) != []


def test_a_list_of_another_length_fails() -> None:
    case = by_id("DUNNETT-crit-df05")
    short = {k: v[:-1] for k, v in case.expected.items()}
    assert len(faults(case, {case.calc: lambda _: short})) == 2
