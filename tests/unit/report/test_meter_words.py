"""What a page says of meters to a reader who knows nothing: words, doubts, what happened when."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from acquire.calibration.changed import limits_changed
from acquire.cli.status import status_lines
from acquire.live.bulletin import Bulletin
from acquire.model import NoticeKind
from acquire.report.record.loading import load_trial
from acquire.report.sections.doubts import doubt_lines
from acquire.report.sections.events import events
from acquire.report.sections.glossary import WORDS
from tests.unit.analysis.bench import quiet, result_of
from tests.unit.reported import page, small
from tests.unit.test_changed_limits import Loosened
from tests.yard import Yard, policy


def test_the_words_stand_folded_on_the_page(tmp_path: Path) -> None:
    yard = small(tmp_path)
    found = page(yard, "small", tmp_path)
    yard.close()
    assert "Words of this page" in found.text
    told = " ".join(f"{one.word} {one.meaning}" for one in WORDS)
    for word in ("pass", "undecided", "suspect", "bracket", "guard band", "as found", "as left"):
        assert word in told.lower()
    assert all(one.meaning in found.text for one in WORDS)


@pytest.mark.parametrize(("shift", "least"), [(0.0, 0.945), (1.0, 0.98)])
def test_intervals_hold_the_truth_as_often_as_the_words_say(shift: float, least: float) -> None:
    """Values of zones by a meter with a known shift that is left in: 600 drawn intervals each."""
    source = np.random.default_rng(8)
    held = []
    for _ in range(50):
        true = {
            zone: 90 + source.random() for zone in ("control", "wax", "wax2", "oil", "oil2", "tern")
        }
        off = shift + 0.1 * source.normal()
        readings = {
            (zone, stage): [round(float(v), 2) for v in level + off + source.normal(0, 0.2, 5)]
            for zone, level in true.items()
            for stage in ("bare", "applied")
        }
        brackets = [
            replace(quiet(stage, 1000.0 * k), tile_u=0.1, opening_deviation=shift)
            for k, stage in enumerate(("bare", "applied"))
        ]
        for level in result_of(readings, brackets=brackets, resolution=0.01).levels:
            assert level.budget is not None
            assert level.cell.mean is not None
            held.append(abs(level.cell.mean - true[level.cell.zone]) <= level.budget.expanded)
    assert least <= np.mean(held)
    (said,) = [w.meaning for w in WORDS if w.word == "± and 95 %"]
    assert "ninety-five or more hold the true value" in said
    assert "it may be ninety-nine" in said


def test_what_was_seen_to_before_the_first_reading_of_a_trial_is_no_event_of_it(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    yard.begin()
    # No reading yet: what keeps it from its first one is told.
    assert len(events(load_trial(yard.bench.store, "gelcoat"))) == 2
    yard.press("shore", "80.1")
    assert events(load_trial(yard.bench.store, "gelcoat")) == ()
    yard.check("shore", tile="95.6")
    assert len(events(load_trial(yard.bench.store, "gelcoat"))) == 1
    yard.close()


def test_a_re_adjustment_of_zero_and_gain_is_one_among_the_troubles(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    for _ in range(2):
        yard.tell("shore", NoticeKind.ADJUSTED)
        yard.clock.advance(1)
    yard.check("shore")
    yard.tell("shore", NoticeKind.ADJUSTED)
    troubles = load_trial(yard.bench.store, "gelcoat").troubles
    told = [t.message for t in troubles if t.kind == "adjusted"]
    assert len(told) == 2
    assert told[0].startswith("it was re-adjusted by its own button, pressed 2 times: ")
    assert told[1].startswith("it was re-adjusted by its own button: ")
    yard.close()


def test_a_re_adjustment_that_a_person_told_of_was_no_press_of_the_meters_button(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.readjusted("shore", at))
    troubles = load_trial(yard.bench.store, "gelcoat").troubles
    assert [t.message for t in troubles if t.kind == "adjusted"] == [
        "it was re-adjusted, as a person says: earlier checks say nothing of it any more"
    ]
    yard.close()


def test_limits_that_hold_nothing_stand_on_the_page_with_their_checks(tmp_path: Path) -> None:
    yard = Loosened(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    assert doubt_lines(load_trial(yard.bench.store, "gelcoat")) == ()
    yard.is_loose = True
    yard.restart()
    yard.plug("shore")
    for _ in range(2):
        yard.check("shore")
    record = load_trial(yard.bench.store, "gelcoat")
    (told,) = doubt_lines(record)
    assert "the limit of T1, 50 GU, is more than a tenth of 93.2 GU" in told
    assert told.endswith("hardly anything fails it (checks 2, 3).")
    assert "Next:" not in told
    found = page(yard, "gelcoat", tmp_path)
    yard.close()
    assert "Limits and certificates to be doubted" in found.text


def test_a_limit_that_was_changed_is_told_where_the_daemon_starts_until_a_check(
    tmp_path: Path,
) -> None:
    yard = Loosened(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.restart()

    def told() -> list[str]:
        status = yard.acts.status(yard.clock.now()).reply
        return [line for line in Bulletin().stand(status) if "LIMIT CHANGED" in line]

    assert told() == []
    yard.is_loose = True
    yard.restart()
    (line,) = told()
    words = "policy gloss-20: the limit of T1 is 50 GU now and was 1.0 GU at check 1: loosened"
    assert line.endswith(f"shore: LIMIT CHANGED: {words}")
    assert f"  limit  {words}" in status_lines(yard.acts.status(yard.clock.now()).reply)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert told() == []
    yard.close()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, []),
        (
            {"linearity_limit": Decimal("1.5")},
            ["it holds the meter to a straight line now, otherwise than at check 7"],
        ),
        (
            {"rules": tuple(replace(r, readings=1) for r in policy().rules[:1])},
            [
                "T1 is read 1 × now and was 2 × at check 7",
                "Z0 is not read any more and was at check 7",
            ],
        ),
        (
            {"rules": (*policy().rules, replace(policy().rules[0], piece="T2"))},
            ["T2 is read now and was not at check 7"],
        ),
        (
            {"rules": tuple(replace(r, spread_limit=Decimal("0.1")) for r in policy().rules)},
            [
                "the spread limit of T1 is 0.1 GU now and was 0.4 GU at check 7: tightened",
                "the spread limit of Z0 is 0.1 GU now and was 0.2 GU at check 7: tightened",
            ],
        ),
        ({"unit": "percent"}, ["its limits are in percent now and were in gloss_unit at check 7"]),
    ],
)
def test_every_way_in_which_a_policy_holds_less_or_more(
    changes: dict[str, object], said: list[str]
) -> None:
    now = replace(policy(), **changes)  # type: ignore[arg-type]
    assert limits_changed(policy(), now, 7) == [f"policy gloss-20: {text}" for text in said]


def test_a_line_that_is_held_less_or_no_more_is_told() -> None:
    held = replace(policy(), linearity_limit=Decimal("0.4"))
    wide = replace(policy(), linearity_limit=Decimal("0.8"))
    assert limits_changed(held, wide, 7) == [
        "policy gloss-20: the linearity limit is 0.8 GU now and was 0.4 GU at check 7: loosened"
    ]
    (told,) = limits_changed(held, policy(), 7)
    assert "no straight line any more" in told
    assert limits_changed(held, held, 7) == []
