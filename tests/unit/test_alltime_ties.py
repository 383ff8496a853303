"""Who is first together in the table over all trials: of one trial as its own page says."""

from __future__ import annotations

from acquire.analysis.scoring.scored import ProductScore
from acquire.report.points.alltime import Entry, Group, _with_ties
from acquire.report.points.alltimelines import _rows


def entry(trial: str, name: str, total: float, place: str, half: float = 5.0) -> Entry:
    product = ProductScore(
        name, name, (), total, total - half, total + half, is_at_least=False, slack=0.0,
        missing=(), place=place,
    )  # fmt: skip
    return Entry(trial, product, name, is_blind=False, stale=(), is_tied=False)


def test_products_of_one_trial_are_tied_as_its_own_places_have_them() -> None:
    # Their intervals overlap, but what they share cancels: the trial has shown who is ahead.
    entries = _with_ties([
        entry("winter", "gull", 20, "1 to 2, tied"), entry("winter", "tern", 19, "1 to 2, tied"),
        entry("winter", "grebe", 18, "3"), entry("spring", "skua", 17, "1"),
        entry("spring", "auk", 2, "2"),
    ])  # fmt: skip
    assert [e.is_tied for e in entries] == [False, True, False, True, False]
    (_, *rows) = _rows(Group(1, 0, (), entries))
    assert [row[-1] for row in rows] == [
        "first together, a tie", "first together, a tie", "", "first together, a tie", "",
    ]  # fmt: skip


def test_one_alone_is_first() -> None:
    entries = _with_ties([entry("winter", "gull", 20, "1"), entry("winter", "tern", 19, "2")])
    (_, *rows) = _rows(Group(1, 0, (), entries))
    assert [row[-1] for row in rows] == ["first", ""]
