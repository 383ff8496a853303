"""What stands in a list of figures and is none is refused by name, at whatever place it stands."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest

from acquire.verify.answering import answer_of
from acquire.verify.casefile import Case
from acquire.verify.task import ASKED, Task
from acquire.verify.verifying import task_of
from tests.reference.shipped import CASES

NO_FIGURES = (None, "nan", "7", "x", True)
_MOST_PLACES, _MOST_NULLS = 12, 150
Place = tuple[int | str, ...]


def places(value: Any, above: Place = ()) -> Iterator[Place]:
    """Where something stands in a list, at any depth."""
    match value:
        case list():
            for k, one in enumerate(value):
                yield (*above, k)
                yield from places(one, (*above, k))
        case dict():
            for key, one in value.items():
                yield from places(one, (*above, key))


def spoilt(value: Any, at: Place, by: object) -> Any:
    value = copy.deepcopy(value)
    inner = value
    for step in at[:-1]:
        inner = inner[step]
    inner[at[-1]] = by
    return value


def leaves(value: Any) -> Iterator[object]:
    if isinstance(value, list | dict):
        for one in value.values() if isinstance(value, dict) else value:
            yield from leaves(one)
    else:
        yield value


def is_known(calc: str, name: str, junk: object) -> bool:
    """Whether a shipped case has such a thing in that input: a life that has not ended, a name."""
    kind = type(junk)
    return any(
        kind is type(one)
        for case in CASES if case.calc == calc
        for one in leaves(case.inputs.get(name))
    )  # fmt: skip


def with_lists() -> Iterator[Case]:
    """Of each calculation the first case for each of its inputs that are lists."""
    seen: set[tuple[str, str]] = set()
    for case in CASES:
        own = {(case.calc, name) for name, value in case.inputs.items() if any(places(value))}
        if own - seen:
            yield case
            seen |= own


@pytest.mark.filterwarnings("ignore::RuntimeWarning")  # of arithmetic before it is refused
@pytest.mark.parametrize("case", [pytest.param(c, id=c.id) for c in with_lists()])
def test_no_figure_in_a_list_is_refused_with_the_name_of_its_input(case: Case) -> None:
    unread = answer_of(task_of(case)).unread
    for name, value in case.inputs.items():
        if name in unread:
            continue
        everywhere = list(places(value))
        for junk in NO_FIGURES:
            if is_known(case.calc, name, junk):
                continue
            # Of a spectrum of thousands of points every so-manieth.
            step = max(1, len(everywhere) // _MOST_NULLS)
            for at in everywhere[::step] if junk is None else everywhere[:_MOST_PLACES]:
                inputs = {**case.inputs, name: spoilt(value, at, junk)}
                found = answer_of(task_of(case.model_copy(update={"inputs": inputs})))
                assert found.values is None, (name, at, junk)
                assert found.why.startswith(f"input {name!r}: got "), (at, junk, found.why)


def test_a_null_among_readings_is_told_and_not_reckoned_with() -> None:
    found = answer_of(
        Task("control.drift_line", {"day": [0, 7, 14, 21], "reading": [0.1, None, 0.2, 0.3]})
    )
    assert found.why == (
        "input 'reading': got null in it, [0.1, nothing, 0.2, 0.3], wanted a list of numbers, as "
        "in the cases that come along"
    )


def test_infinity_goes_where_shipped_cases_have_it_and_nowhere_else() -> None:
    limit = next(c for c in CASES if c.calc == "uncertainty.welch_satterthwaite")
    inputs = {**limit.inputs, "nu": ["inf"] * len(limit.inputs["nu"])}
    assert answer_of(task_of(limit.model_copy(update={"inputs": inputs}))).values is not None
    found = answer_of(Task("stats.summary", {"data": [1.0, "inf", 2.0], ASKED: ["mean"]}))
    assert found.why.startswith("input 'data': got infinity in it, [1.0, 'inf', 2.0], wanted ")
