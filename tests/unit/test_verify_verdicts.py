"""An answer agrees with a case, or what came instead is said; the calculations are never fooled."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from acquire.errors import Misuse
from acquire.verify.answering import answer_of
from acquire.verify.apart import answers
from acquire.verify.calcs.comparison import dunnett_test
from acquire.verify.casefile import Case, CaseFile, Tolerance, is_loose
from acquire.verify.record import record_of
from acquire.verify.task import ASKED, WORDS, Answer, Task
from acquire.verify.verifying import (
    Verdict,
    Verified,
    agree,
    task_of,
    verify_case,
    verify_files,
)
from acquire.verify.words import all_case_lines, verdict_lines
from tests.reference.shipped import CASES, FILES
from tests.unit.verify_cases import GOOD, case, read, text_of


def answered(given: Any, **changes: Any) -> Verified:
    return verify_case(case(**changes), Answer(given))


def test_a_case_agrees_within_its_tolerance_and_not_beyond() -> None:
    room = {"mean": {"abs": 0.125, "rel": 0.0625}, "*": {"abs": 0}}
    assert answered({"mean": 2.25}, tolerance=room).verdict is Verdict.AGREES
    assert answered({"mean": 1.75}, tolerance=room).verdict is Verdict.AGREES
    assert answered({"mean": 2.25 + 1e-9}, tolerance=room).verdict is Verdict.DIFFERS


def test_a_tolerance_that_takes_in_zero_and_the_opposite_sign_is_told_beside_the_verdict() -> None:
    """It may be meant so, of a figure near nothing; but such a case proves the size alone."""
    loose = answered({"mean": -2.0}, expected={"mean": 2.0}, tolerance={"*": {"abs": 4.0}})
    assert loose.verdict is Verdict.AGREES
    assert loose.loose == ("mean",)
    both = {"mean": {"abs": 1.5, "rel": 0.25}, "*": {"abs": 0.1}}
    assert answered({"mean": 0.0}, expected={"mean": 2.0}, tolerance=both).loose == ("mean",)
    assert (
        answered({"mean": 2.0}, expected={"mean": 2.0}, tolerance={"*": {"rel": 0.9}}).loose == ()
    )
    # Of a list its largest figure tells; an expected zero has no sign.
    assert answered({"mean": [3.0, 0.0]}, expected={"mean": [3.0, 1e-9]}).loose == ()
    assert answered({"mean": 0.0}, expected={"mean": 0.0}).loose == ()
    assert [c.id for c in CASES if _loose(c)] == []


def _loose(case: Case) -> bool:
    return any(is_loose(wanted, case.tolerance_of(key)) for key, wanted in case.expected.items())


def test_loose_cases_are_counted_in_the_last_words(tmp_path: Path) -> None:
    text = f"[{text_of(expected={'mean': 2.0}, tolerance={'*': {'abs': 2.0}})}]"
    file = read(tmp_path, text)
    record = record_of(verify_files([file], lambda tasks: [answer_of(t) for t in tasks]), [], 0)
    (lines,) = all_case_lines(record)
    assert "  loose   mean: zero and the opposite sign lie within the tolerance, too" in lines
    assert "1 case would agree with zero and with the opposite sign" in "\n".join(
        verdict_lines(record)
    )


def test_one_quantity_astray_is_enough() -> None:
    found = answered({"mean": 2.0, "sd": 9.0}, expected={"mean": 2.0, "sd": 1.0})
    assert found.verdict is Verdict.DIFFERS
    assert [(one.key, one.agrees) for one in found.compared] == [("mean", True), ("sd", False)]


def test_a_quantity_that_is_not_given_differs_and_it_is_said_what_is_given() -> None:
    found = answered({"sd": 1.0, "n": 3})
    assert found.verdict is Verdict.DIFFERS
    assert not found.compared[0].given
    assert found.why == ("stats.summary answers with sd, n",)


def test_the_elements_of_a_list_that_differ_are_known_by_their_places() -> None:
    found = answered({"mean": [1.0, 2.5, 3.0]}, expected={"mean": [1.0, 2.0, 3.0]})
    assert found.compared[0].astray == (1,)


@pytest.mark.parametrize(
    ("got", "wanted"),
    [
        (float("nan"), 1.0),
        (float("inf"), 1.0),
        (10**400, 1.0),
        (1, True),
        (True, 1),
        ("1", 1),
        (1.0, "1"),
        ([1.0], [1.0, 1.0]),
        (1.0, [1.0]),
        ([1.0], 1.0),
        (None, 1.0),
        (0.0, None),
        (False, None),
        ({"a": 1}, {"a": 1}),
    ],
)
def test_what_is_not_the_same_sort_of_thing_never_agrees(got: Any, wanted: Any) -> None:
    assert not agree(got, wanted, Tolerance(abs=1e9))


@pytest.mark.parametrize(
    ("got", "wanted"),
    [("undefined", "undefined"), (True, True), ([1.0, "a"], [1, "a"]), (None, None), (2, 2.0)],
)
def test_the_same_things_agree(got: Any, wanted: Any) -> None:
    assert agree(got, wanted, Tolerance())


def test_a_figure_without_a_tolerance_never_agrees() -> None:
    assert not agree(1.0, 1.0, None)


def test_a_calculation_of_no_name_is_not_run_and_not_right() -> None:
    found = verify_case(case(calc="stats.oracle"), answer_of(Task("stats.oracle", {})))
    assert (found.verdict, found.verdict.is_right) == (Verdict.UNKNOWN, False)
    assert found.why == ("no calculation has this name",)


def raising(error: Exception) -> Answer:
    def calc(_: object) -> dict[str, Any]:
        raise error

    return answer_of(Task("it", {"here": 1}), {"it": calc})


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (KeyError("data"), "an input 'data' is needed and not there"),
        (
            KeyError("here"),
            "the calculation cannot be done with these inputs (here): look for a figure out of its "
            "range, or lists of unlike length (KeyError)",
        ),
        (ValueError("the inputs give no mean"), "the inputs give no mean"),
        (MemoryError(), "the inputs need more memory than there is"),
        (Misuse("unit of another kind", got="kg"), "unit of another kind: got kg"),
        (
            ZeroDivisionError("division by zero"),
            "the calculation cannot be done with these inputs (here): division by zero",
        ),
    ],
)
def test_inputs_that_a_calculation_does_not_take_are_said(error: Exception, words: str) -> None:
    assert raising(error) == Answer(why=words)
    assert verify_case(case(), raising(error)).verdict is Verdict.NO_ANSWER


def test_groups_without_any_scatter_are_not_held_against_a_control() -> None:
    with pytest.raises(ValueError, match="no scatter cannot be judged"):
        dunnett_test({"control": [1.0, 1.0], "groups": [[2.0, 2.0], [3.0, 3.0]]})


def test_answers_are_plain_values_wherever_they_were_made() -> None:
    given: dict[str, Any] = {
        "a": np.float64(1.5),
        "b": np.array([1, 2]),
        "c": (np.bool_(True), None),
    }
    given["d"] = Verdict.AGREES
    found = answer_of(Task("it", {}), {"it": lambda _: given})
    assert found.values == {"a": 1.5, "b": [1, 2], "c": [True, None], "d": "agrees"}
    assert found.values is not None
    assert [type(v) for v in found.values.values()] == [float, list, list, str]


def test_what_no_case_can_expect_is_no_answer() -> None:
    assert "type object" in answer_of(Task("it", {}), {"it": lambda _: {"a": object()}}).why


def test_inputs_are_never_run_as_code(tmp_path: Path) -> None:
    trap = tmp_path / "trap"
    code = f"__import__('pathlib').Path({str(trap)!r}).touch()"
    for shipped in {one.calc: one for one in CASES}.values():
        spoilt = {key: code for key in shipped.inputs} | {"asked": [code], "words": code}
        answer_of(Task(shipped.calc, spoilt))
        answer_of(Task(shipped.calc, {key: [code] for key in spoilt}))
    assert answer_of(Task(code, {})).is_known is False
    assert not trap.exists()


OF_PYTHON = re.compile(
    r"Error\(|operand|NoneType|subscript|iterable|unpack|ufunc|dtype|inhomogeneous|hashable|"
    r"has no attribute|could not convert|format string|Unknown format|not supported between"
)

JUNK = (None, True, "x", [], [[]], {}, -1, 0, 1e308, [None], ["x"], [0.0], "inf", [1e308, -1e308])


@pytest.mark.filterwarnings("ignore::RuntimeWarning")  # of arithmetic at the ends of its range
@pytest.mark.parametrize("calc", sorted({one.calc for one in CASES}))
def test_inputs_of_every_wrong_sort_are_answered_or_refused_with_words(calc: str) -> None:
    shipped = next(one for one in CASES if one.calc == calc)
    for key in shipped.inputs:
        for junk in JUNK:
            task = task_of(shipped.model_copy(update={"inputs": {**shipped.inputs, key: junk}}))
            found = answer_of(task)
            assert found.is_known
            assert (found.values is None) == bool(found.why)
            # Whoever wrote the case reads the reason, and no words of the language it is made in.
            assert not OF_PYTHON.search(found.why), (key, junk, found.why)
        rest = {k: v for k, v in shipped.inputs.items() if k != key}
        answer_of(task_of(shipped.model_copy(update={"inputs": rest})))


@pytest.mark.parametrize(
    ("calc", "key", "given"),
    [
        ("stats.grubbs", "side", "Max"),
        ("stats.power", "alternative", "greater"),
        ("stats.power", "type", "one sample"),
        ("gloss.check_tile", "limit_is_inclusive", False),
        ("bracketing.uncorrected_allowance", "readings_uniform_in_time", False),
        ("precision.gauge_study", "layout", "data[operator][part][trial]"),
        ("durability.interval_censored", "interval_convention", "left, right"),
    ],
)
def test_an_option_that_a_calculation_does_not_know_is_never_taken_for_another_one(
    calc: str, key: str, given: object
) -> None:
    shipped = next(one for one in CASES if one.calc == calc and key in one.inputs)
    task = task_of(shipped.model_copy(update={"inputs": {**shipped.inputs, key: given}}))
    found = answer_of(task)
    assert found.values is None
    assert found.why.startswith(f"input {key!r}: got {given!r}, wanted ")


def test_an_input_of_another_sort_than_in_the_shipped_cases_is_named_with_what_is_wanted() -> None:
    (faulty,) = [answer_of(Task("stats.summary", {"data": "82.1, 82.3", ASKED: [], WORDS: ""}))]
    assert faulty.why == (
        "input 'data': got text, '82.1, 82.3', wanted a list of numbers, as in the cases that "
        "come along"
    )
    guard = next(c for c in CASES if c.calc == "uncertainty.guard_band" and "r" in c.inputs)
    faulty = answer_of(task_of(guard.model_copy(update={"inputs": {**guard.inputs, "r": None}})))
    assert faulty.why.startswith("input 'r': got null, wanted a number")


def test_truths_and_figures_in_quotes_are_never_taken_for_figures() -> None:
    def why(calc: str, **inputs: Any) -> str:
        found = answer_of(Task(calc, {**inputs, ASKED: ["mean"], WORDS: "mean"}))
        assert found.values is None
        return found.why

    figures = "wanted a list of numbers, as in the cases that come along"
    assert why("stats.summary", data=[True, False, 3]) == (
        f"input 'data': got true or false in it, [true, false, 3], {figures}"
    )
    assert why("stats.summary", data=["1", 2, 3]) == (
        f"input 'data': got text in it, ['1', 2, 3], {figures}"
    )
    for calc in ("stats.grubbs", "stats.dunnett_critical"):
        shipped = next(c for c in CASES if c.calc == calc and "alpha" in c.inputs)
        assert why(calc, **{**shipped.inputs, "alpha": True}) == (
            "input 'alpha': got true or false, true, wanted a number, as in the cases that come "
            "along"
        )


def test_a_truth_in_an_input_of_no_shipped_case_is_refused_where_it_is_looked_at() -> None:
    shipped = next(c for c in CASES if c.calc == "ranking.pair")
    assert "nu" not in shipped.inputs
    looked_at = Task("ranking.pair", {**shipped.inputs, "nu": True, ASKED: []})
    assert answer_of(looked_at).why == "input 'nu': got true or false, true, wanted figures"
    unread = Task("stats.summary", {"data": [1.0, 2.0, 3.0], "note": True, ASKED: []})
    assert answer_of(unread).unread == ("note",)


def test_infinity_stays_a_word() -> None:
    shipped = next(c for c in CASES if c.calc == "stats.t_factor")
    inputs = {**shipped.inputs, "df": "inf"}
    assert answer_of(task_of(shipped.model_copy(update={"inputs": inputs}))).values is not None


def test_inputs_that_a_calculation_does_not_look_at_are_told_and_others_are_not() -> None:
    inputs = {"data": [1.0, 2.0, 3.0], "aplha": 0.01, ASKED: ["mean"], WORDS: "mean"}
    (found,) = answers([Task("stats.summary", inputs)])
    assert found.unread == ("aplha",)
    assert answer_of(Task("stats.summary", {"data": [1.0, 2.0, 3.0], ASKED: []})).unread == ()
    # Of the shipped cases that is said of nothing but what describes them.
    told = {name for case in CASES for name in answer_of(task_of(case)).unread}
    assert told <= DESCRIBING


DESCRIBING = {"made_from"}
"""How a made spectrum was made, for a reader; its points are the input."""


def test_faulty_cases_and_areas_keep_their_places_among_the_answers(tmp_path: Path) -> None:
    file = read(tmp_path, f"[{text_of()}, 17, {text_of(id='two', calc='units.convert')}]")

    def ask(tasks: Any) -> list[Answer]:
        return [Answer({"mean": 2.0}) if t.calc == "stats.summary" else Answer() for t in tasks]

    (found,) = verify_files([file], ask)
    verdicts = [Verdict.AGREES, Verdict.FAULTY, Verdict.NO_ANSWER]
    assert [one.verdict for one in found.entries] == verdicts
    (found,) = verify_files([file], ask, frozenset({"stats"}))
    # Nobody knows what a case was about that cannot be read: it is never left out.
    assert [one.verdict for one in found.entries] == verdicts[:2]
    assert found.left_out == 1
    assert not found.is_right


def test_nothing_is_never_right() -> None:
    (found,) = verify_files([CaseFile(Path("x"), "", (), None)], lambda _: [])
    assert not found.is_right


def test_a_process_of_its_own_answers_as_this_one_does() -> None:
    tasks = [task_of(one) for one in CASES[::9]]
    assert answers(tasks) == [answer_of(task) for task in tasks]


def test_what_hangs_or_fills_the_memory_costs_no_other_case() -> None:
    sound = task_of(case())
    endless = Task("stats.dunnett_critical", {"k_treatments": [10**8], "rho": 0.5, "df": 9,
                                              "alpha": 0.05})  # fmt: skip
    large = Task("precision.cochran_critical", {"p": 10**11, "n": 3})
    first, hung, second, full, third = answers([sound, endless, sound, large, sound], limit_s=2.0)
    assert first == second == third == answer_of(sound)
    assert hung.why == "no answer came within 2 s"
    assert full.why == "the inputs need more memory than there is"


def test_every_shipped_file_is_whole() -> None:
    assert GOOD["calc"] in {one.calc for one in CASES}
    assert [file.fault for file in FILES if file.fault] == []
