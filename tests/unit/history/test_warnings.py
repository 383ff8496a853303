"""What a person is told of a history: a sentence what, a sentence what next."""

from __future__ import annotations

import math

from acquire.history.charting import Charting
from acquire.history.outlook import Outlook, outlook
from acquire.history.reach import Reach, Reached
from acquire.history.warnings import Concern, Warned, dated, warnings
from tests.unit.history.points import QUIET, day_ns, points

CHARTING = Charting(resolution=0.1, baseline=10)
STEADY = [*QUIET, *QUIET, *QUIET]
RISING = [*QUIET, *(x + 0.02 * i for i, x in enumerate([*QUIET, *QUIET]))]


def seen(deviations: list[float], limit: float = 1.0, today: float = 29.0, guard: float = 0.0,
         days: list[float] | None = None) -> Outlook:  # fmt: skip
    return outlook(
        points(deviations, days), limit=limit, now_ns=day_ns(today), guard=guard, charting=CHARTING
    )


def told(found: Outlook) -> list[Concern]:
    return [w.concern for w in warnings(found, CHARTING)]


def one(found: Outlook, concern: Concern) -> Warned:
    (warned,) = [w for w in warnings(found, CHARTING) if w.concern is concern]
    return warned


def test_a_meter_that_stands_still_is_not_spoken_of() -> None:
    assert told(seen(STEADY)) == []


def test_a_shift_is_told_in_words_with_its_day_and_what_to_look_for() -> None:
    warned = one(seen([*STEADY, *(x + 0.2 for x in QUIET)], today=39.0), Concern.OUT_OF_CONTROL)
    assert "since 2026-01-31" in warned.what
    assert "(CUSUM)" in warned.what
    assert warned.next_step.startswith("Look for a cause on that day")


def test_a_limit_far_ahead_needs_nothing_yet() -> None:
    warned = one(seen(RISING, 1.2), Concern.LIMIT_AHEAD)
    assert "+1.2 GU on about 2026-0" in warned.what
    assert "days are left, about" in warned.what
    assert warned.next_step.startswith("Nothing is needed yet")


def test_a_limit_that_is_near_asks_for_an_act_now() -> None:
    warned = one(seen(RISING, 0.6), Concern.LIMIT_NEAR)
    assert "+0.6 GU" in warned.what
    assert "check again now" in warned.next_step


def test_what_may_be_today_is_said_so() -> None:
    assert "that may be today" in one(seen(RISING, 0.45), Concern.LIMIT_NEAR).what


def test_a_drift_beyond_the_limit_is_told_with_its_size_and_doubt() -> None:
    warned = one(seen(RISING, 0.3), Concern.LIMIT_PASSED)
    assert "GU, beyond +0.3 GU" in warned.what
    assert "±" in warned.what
    assert "re-adjust the meter" in warned.next_step


def test_a_drift_beyond_the_limit_by_a_hair_is_not_told_as_the_limit_itself() -> None:
    warned = one(seen(RISING, 0.325), Concern.LIMIT_PASSED)
    assert "has drifted to +0.3254 ± 0.065 GU, beyond +0.325 GU" in warned.what


def test_a_check_that_does_not_pass_is_told_without_any_line() -> None:
    warned = one(seen([0.0, 2.7]), Concern.BEYOND)
    assert warned.what.startswith("The last check found it +2.7")
    assert warned.what.endswith("where a check no longer passes (from about 1 GU on).")
    assert warned.next_step.startswith("Clean the piece")
    assert told(seen([0.0, 2.7]))[0] is Concern.BEYOND
    assert Concern.BEYOND not in told(seen([2.7, 0.0]))


def test_a_scatter_as_wide_as_the_limit_is_told_without_any_drift() -> None:
    warned = one(seen(STEADY, 0.2), Concern.SCATTER)
    assert warned.what.startswith("Checks lie at 0.00 ± 0.22 GU without any drift")
    assert Concern.SCATTER not in told(seen(STEADY, 0.3))
    assert Concern.SCATTER in told(seen([x + 0.2 for x in STEADY], 0.4))


def test_a_guard_without_room_is_told_first() -> None:
    assert told(seen(STEADY, guard=1.2))[0] is Concern.NO_ROOM


def test_a_long_time_without_a_check_is_told() -> None:
    warned = one(seen(STEADY, today=29.0 + 120), Concern.GAP)
    assert "120 days ago" in warned.what
    # Three times as long as the 29 days that the checks lie within, the line says no more.
    assert told(seen(STEADY, today=29.0 + 87)) == []
    assert told(seen(STEADY, today=29.0 + 90)) == [Concern.LITTLE]


def test_little_data_are_told_with_what_helps() -> None:
    warned = one(seen([0.1] * 4), Concern.LITTLE)
    assert "there are 4." in warned.what
    assert warned.next_step == "Make 6 more checks; limits come by themselves."
    assert told(seen([])) == [Concern.LITTLE]
    assert told(seen([math.nan])) == [Concern.LITTLE]


def test_limits_set_from_a_jump_are_told() -> None:
    jumped = [*QUIET[:5], 9.0, *QUIET[5:], *QUIET, *QUIET]
    charting = Charting(resolution=0.1, baseline=20)
    found = outlook(points(jumped), limit=20.0, now_ns=day_ns(30), charting=charting)
    assert Concern.RESTLESS in [w.concern for w in warnings(found, charting)]


def test_why_there_is_no_date_is_said() -> None:
    found = seen(RISING, 2.0)
    said = {
        state: dated(found, Reach(-2.0, state))
        for state in (Reached.PAST, Reached.UNRESOLVED, Reached.AWAY, Reached.FAR)
    }
    assert said[Reached.PAST] == "The line through the checks already lies beyond −2 GU."
    assert "no drift stands out" in said[Reached.UNRESOLVED]
    assert "move away from it" in said[Reached.AWAY]
    assert "the line can be trusted" in said[Reached.FAR]
    single = dated(found, Reach(2.0, Reached.FAR, predicted=31.0))
    assert "from 2026-02-01 on a single check may lie beyond" in single


def test_a_date_is_said_with_its_interval_even_where_its_end_is_open() -> None:
    text = dated(seen(RISING, 2.0), Reach(2.0, Reached.DATED, 59.0, 45.0, None, 31.0))
    assert text == (
        "The deviation reaches +2 GU on about 2026-03-01 (between 2026-02-15 and a day too far "
        "ahead to tell); a single check may lie beyond from 2026-02-01 on."
    )


def test_every_warning_is_two_sentences() -> None:
    for deviations in (STEADY, RISING, [0.1], []):
        for limit in (0.2, 0.5, 3.0):
            for warned in warnings(seen(deviations, limit, 200.0), CHARTING):
                assert warned.what.endswith(".")
                assert warned.next_step.endswith(".")
                assert not {"nan", "inf", "None"} & set(warned.what.split())
