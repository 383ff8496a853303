"""The plans of studies as they are written, and what is refused of one that a person wrote."""

from __future__ import annotations

import pytest

from acquire.errors import SettingsError
from acquire.model import Quantity, StudyKind
from acquire.pipeline.plan_change import contradictions
from acquire.settings import parse_plan
from acquire.study.writing import Wanted, study_text

PEOPLE = ("ines", "jonas")


def written(
    quantity: Quantity = Quantity.GLOSS,
    channels: tuple[str, ...] = ("20", "60"),
    *,
    kind: StudyKind = StudyKind.REPEATABILITY,
    on: str = "gelcoat G2",
) -> str:
    people = PEOPLE if kind is StudyKind.REPEATABILITY else ()
    return study_text(3, Wanted(kind, "shore", quantity, channels, 4, 10, people, on))


@pytest.mark.parametrize(
    ("quantity", "channels"),
    [
        (Quantity.GLOSS, ("20", "60")),
        (Quantity.TRANSMITTANCE, ("315-400", "940")),
        (Quantity.FORCE, ("",)),
    ],
)
def test_a_study_of_any_quantity_is_a_plan_of_spots_and_people(
    quantity: Quantity, channels: tuple[str, ...]
) -> None:
    plan = parse_plan(written(quantity, channels), "study")
    assert (plan.id, plan.study, plan.unchecked) == ("study-3", StudyKind.REPEATABILITY, False)
    assert plan.stages == PEOPLE
    assert [z.id for z in plan.zones] == ["spot-1", "spot-2", "spot-3", "spot-4"]
    (measure,) = plan.measures
    assert (measure.quantity, measure.channels) == (quantity, channels)
    assert (measure.replicates, measure.stages) == (10, PEOPLE)


def test_a_warm_up_study_is_unchecked_by_its_plan() -> None:
    plan = parse_plan(written(kind=StudyKind.WARM_UP), "study")
    assert (plan.study, plan.unchecked, plan.stages) == (StudyKind.WARM_UP, True, ("switch-on",))


@pytest.mark.parametrize("on", ['the "good" panel', "a \\ b", "Ä ☂ 😀", "# no comment"])
def test_what_is_read_is_kept_in_any_words(on: str) -> None:
    assert parse_plan(written(on=on), "study").panel == on


def test_words_with_a_line_end_are_refused_and_named() -> None:
    with pytest.raises(SettingsError, match=r"panel\.name"):
        parse_plan(written(on="two\nlines"), "study")


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("unchecked = false", "unchecked = true", "false, for a repeatability study"),
        ('kind = "repeatability"', 'kind = "warm-up"', "true, for a warm-up study"),
        ('kind = "repeatability"', 'kind = "linearity"', "study.kind"),
        ("[[measure]]", '[[measure]]\nid = "other"\nquantity = "force"\nreplicates = 1\n'
         "[[measure]]", "one measure, for a study"),
    ],
)  # fmt: skip
def test_a_study_that_goes_round_the_check_or_has_two_measures_is_refused(
    before: str, after: str, told: str
) -> None:
    with pytest.raises(SettingsError, match=told):
        parse_plan(written().replace(before, after, 1), "study")


def test_a_plan_becomes_no_study_and_a_study_no_plan_of_products() -> None:
    study = parse_plan(written(), "study")
    plain = parse_plan(written().replace('[study]\nkind = "repeatability"\n', ""), "study")
    assert contradictions(study, study, [], []) == []
    for old, new in ((study, plain), (plain, study)):
        (fault,) = contradictions(old, new, [], [])
        assert "declared from the plan on" in fault
