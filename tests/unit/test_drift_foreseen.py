"""What past checks foresaw of a block, looked at with no more than was known before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from acquire.drift.early import early
from acquire.drift.foreseen import MOST_BLOCKS, block_words, blocks, latest_blocks
from acquire.drift.history import History, Key
from acquire.drift.words import state
from acquire.history.series import Series
from acquire.report.driftpage import render_drift
from tests.unit.history.points import QUIET, day_ns, points

CREEP = [0.04 * k + u for k, u in enumerate(QUIET)]
"""Creeps by 0.04 GU a day; a check passes below 1.0 GU less 0.4 GU."""


def history(deviations: Sequence[float], readjusted: Sequence[int] = ()) -> History:
    made = [
        replace_point(p, was_readjusted=k in readjusted) for k, p in enumerate(points(deviations))
    ]
    key = Key("SH-0417", "gloss", "T1", "20", "gloss_unit")
    return History("shore", key, Series.of(made), 1.0, 0.4, 0.1, is_present=True)


def replace_point(point, **changes):  # type: ignore[no-untyped-def]
    return point._replace(**changes)


def test_a_drift_is_told_to_have_been_foreseen_with_its_first_warning_and_the_day_it_gave() -> None:
    one = history([*CREEP, 0.8, 0.0], readjusted=[11])
    (block,) = blocks(one)
    assert (block.check_id, block.at_ns) == (10, day_ns(10))
    # The same answer as the warning of that day gave.
    before = replace(one, series=one.series.part(0, 10))
    told = early(before.seen(day_ns(9)))
    assert told is not None
    words = block_words(block)
    assert "found T1 at 20° of shore +0.80 GU off" in words
    assert "it was foreseen: check " in words
    assert "up to check 9" in words
    last = words.rsplit("about ", 1)[1][:10]
    assert f"will reach its limit about {last}" in told.text


def test_a_block_before_the_first_day_that_was_given_came_sooner_than_foreseen() -> None:
    one = history([*CREEP[:8], 0.8])
    *before, last = points([*CREEP[:8], 0.8])
    soon = replace(one, series=Series.of([*before, last._replace(at_ns=day_ns(7.2))]))
    (block,) = blocks(soon)
    assert "it was foreseen" in block_words(blocks(one)[0])
    words = block_words(block)
    assert "it came sooner than was foreseen: check " in words
    assert "at the earliest on" in words


def test_a_meter_that_does_not_pass_now_is_said_so_before_there_is_a_line() -> None:
    jumped = history([0.0, 0.0, 2.7]).seen(day_ns(2))
    assert state(jumped) == "does not pass"
    page = render_drift("bench.sqlite", [jumped], day_ns(2))
    assert "off at its last check, where none passes; clean it" in page
    assert "too few checks yet to say of any meter" not in page


def test_a_warning_is_told_from_the_check_on_since_which_it_stood() -> None:
    (block,) = blocks(history([*CREEP, 0.8]))
    assert block.warned is not None
    for stop in range(block.warned + 1, 11):
        told = history(CREEP[:stop])
        assert told.seen(day_ns(stop - 1)).outlook.is_near
    assert not history(CREEP[: block.warned]).seen(day_ns(block.warned - 1)).outlook.is_near


def test_a_jump_of_a_quiet_meter_is_told_to_have_come_at_once() -> None:
    (block,) = blocks(history([*QUIET, -2.3]))
    assert block.warned is None
    assert "it was not foreseen" in block_words(block)
    assert "−2.30 GU off" in block_words(block)


def test_a_block_soon_after_a_re_adjustment_could_not_be_foreseen() -> None:
    first, second, third = blocks(history([*CREEP, 0.8, 0.0, -2.3, 0.9], readjusted=[11, 13]))
    assert first.warned is not None
    assert "only 1 check before it" in block_words(second)
    assert "the first check of its stretch" in block_words(third)


def test_a_block_at_the_very_first_check_and_a_meter_without_blocks() -> None:
    assert blocks(history(QUIET)) == []
    (block,) = blocks(history([0.9]))
    assert block.seen is None


def test_no_check_is_called_a_block_where_the_guard_leaves_no_room() -> None:
    assert blocks(replace(history([0.9, 2.0]), guard=1.0)) == []


def test_the_latest_blocks_are_told_in_the_order_of_their_checks() -> None:
    one = history([0.0, 0.9] * 5, readjusted=[2, 4, 6, 8])
    other = replace(one, key=one.key._replace(piece="T2"))
    assert [b.check_id for b in blocks(one)] == [5, 7, 9]
    assert len(blocks(one)) == MOST_BLOCKS
    assert [b.check_id for b in latest_blocks([blocks(one), blocks(other)], most=4)] == [7, 7, 9, 9]


def test_the_page_tells_what_was_foreseen_and_draws_the_line_that_led_there() -> None:
    after = history([*CREEP, 0.8, 0.0], readjusted=[11])
    unforeseen = history([*QUIET, 0.8, 0.0], readjusted=[11])
    page, plain = (
        render_drift("bench.sqlite", [h.seen(day_ns(11))], day_ns(11)) for h in (after, unforeseen)
    )
    assert "whether it was seen coming" in page
    assert "it was foreseen: check" in page
    assert "it was not foreseen" in plain
    assert page.count("<path") > plain.count("<path")
