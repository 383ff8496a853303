"""A number beside that the display had so far may be any; few words in other lines are told."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORMS = [
    "VAL={} GU\r\nMAX={}\r\n",
    "MAX={1}\r\nVAL={0} GU\r\n",
    "VAL={} GU MAX={}\r\n",
    "V,{},{}\r\n",
    "V {:>6}\r\nMAX {:>6}\r\n",
]
LARGEST = [
    (("68.5", "68.5"), ("70.3", "70.3"), ("37.3", "70.3")),
    (("8.5", "8.5"), ("9.3", "9.3"), ("1.6", "9.3")),
    (("68", "68"), ("91", "91"), ("37", "91")),
]
LEAST = (("70.3", "70.3"), ("68.5", "68.5"), ("72.0", "68.5"))
OTHER_WORDS = "other words, or other ones of the few numbers that change"


def taught(form: str, rows: Sequence[Sequence[str]]) -> Finding:
    made = [Press(form.format(*row).encode(), Decimal(row[0])) for row in rows]
    return learn(made, About(Quantity.GLOSS, channel="60", settled=9), REGISTRY)


def read(found: Finding, data: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [data.encode()], REGISTRY)
    return [str(reading.value) for reading in here]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("rows", [*LARGEST, LEAST])
def test_a_largest_or_least_number_so_far_goes_on(form: str, rows: Sequence[Sequence[str]]) -> None:
    found = taught(form, rows)
    for value, beside in (("50.2", "95.4"), ("95.4", "95.4"), ("5.1", "114.0"), ("1.0", "0.2")):
        is_whole = "." not in rows[0][0]
        row = [text.partition(".")[0] if is_whole else text for text in (value, beside)]
        assert read(found, form.format(*row)) == [row[0]]
    assert OTHER_WORDS not in " ".join(found.unseen)


@pytest.mark.parametrize("form", FORMS[2:4])
def test_in_its_own_line_it_is_told_that_any_is_taken(form: str) -> None:
    found = taught(form, LARGEST[0])
    assert any("'68.5' and '70.3' stood beside the number" in one for one in found.believed)


@pytest.mark.parametrize("rows", [(("6", "6"), ("9", "9"), ("13", "9")),
                                  (("68.5", "1"), ("70.3", "2"), ("37.3", "2"))])  # fmt: skip
def test_few_digits_are_held_and_it_is_said_that_others_are_noise(
    rows: Sequence[Sequence[str]],
) -> None:
    found = taught("VAL={} GU\r\nMODE={}\r\n", (*rows, rows[0], rows[-1], rows[1]))
    assert read(found, f"VAL={rows[0][0]} GU\r\nMODE=7\r\n") == []
    assert OTHER_WORDS in " ".join(found.unseen)


def test_a_number_that_was_none_of_the_display_is_none_so_far() -> None:
    rows = (("68.5", "12.4"), ("70.3", "70.3"), ("37.3", "70.3"), ("50.2", "12.4"))
    found = taught("VAL={} GU\r\nMAX={}\r\n", rows)
    assert read(found, "VAL=75.2 GU\r\nMAX=75.2\r\n") == []
    assert OTHER_WORDS in " ".join(found.unseen)
