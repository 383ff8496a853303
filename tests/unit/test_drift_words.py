"""What is said of a drift: early, in words, in plain characters; and nothing where all is well."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.drift import detail_lines, item_of, overview_foot, overview_rows
from acquire.cli.status import status_lines, warnings_of
from acquire.drift.asked import told_of
from acquire.drift.early import MOST, early, early_warnings, lines
from acquire.drift.history import Seen
from acquire.drift.sketch import ROWS, chart, course
from acquire.drift.words import adjustments, ahead, state, trend
from acquire.history.warnings import Concern
from acquire.model import NoticeKind
from acquire.store.reader import StoreReader
from tests.unit.drifting import daily, only, rising, yard_of
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = yard_of(tmp_path)
    yield made
    made.close()


def seen(yard: Yard) -> Seen:
    return only(yard).seen(yard.clock.now().utc_ns)


def test_of_a_meter_that_stands_still_nothing_is_warned(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.0, 30))
    found = seen(yard)
    assert state(found) == "in control"
    assert early(found) is None
    assert trend(found).startswith("no drift stands out of the scatter: ")
    assert ahead(found) == ["no date for a limit: no drift stands out of the scatter of the checks"]


def test_a_drift_is_seen_coming_with_its_day_and_the_checks_left(yard: Yard) -> None:
    """0.03 GU a day from 0: the edge of 0.7 GU is reached at about day 23, long before a block."""
    daily(yard, rising(93.2, 0.03, 15))
    found = seen(yard)
    warned = early(found)
    assert warned is not None
    assert warned.concern is Concern.LIMIT_NEAR
    assert warned.text == (
        "T1 at 20° of shore will reach its limit about 2026-05-29 and may do so from 2026-05-23 "
        "on, some 3 checks from now; plan a re-adjustment"
    )
    outcomes = yard.writer.query("SELECT DISTINCT outcome FROM check_judgement")
    assert [row[0] for row in outcomes] == ["pass"]
    assert found.outlook.checks_left is not None
    assert 0 < found.outlook.checks_left < 10


def test_a_check_is_blocked_only_after_the_warning_came(yard: Yard) -> None:
    """Day after day: the first warning stands before the first check that does not pass."""
    first_warned = first_blocked = None
    for place, tile in enumerate(rising(93.2, 0.03, 30)):
        daily(yard, [tile])
        outcome = yard.writer.query("SELECT outcome FROM check_judgement ORDER BY id DESC")[0][0]
        if first_blocked is None and outcome != "pass":
            first_blocked = place
        warned = early(seen(yard))
        if first_warned is None and warned is not None:
            first_warned = place
    assert first_warned is not None
    assert first_blocked is not None
    assert first_warned <= first_blocked - 5


def test_a_meter_beyond_its_limit_is_told_first(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.05, 25), traps=rising(0.1, 0.004, 25))
    with StoreReader(yard.bench.store) as reader:
        found = early_warnings(reader, "shore", yard.clock.now().utc_ns)
    assert found[0].piece == "T1"
    assert found[0].concern is Concern.LIMIT_PASSED
    assert "has drifted beyond its limit" in found[0].text


def test_a_sudden_step_is_told_as_a_meter_that_no_longer_repeats_itself(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.0, 25) + rising(93.6, 0.0, 3))
    warned = early(seen(yard))
    assert warned is not None
    assert warned.text == (
        "T1 at 20° of shore no longer repeats its earlier checks, since 2026-05-29; clean it and "
        "look for a cause"
    )
    assert state(seen(yard)) == "out of control since 2026-05-29"


def test_a_readjustment_ends_the_warning_and_tells_as_found_and_as_left(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 20))
    assert early(seen(yard)) is not None
    yard.tell("shore", NoticeKind.ADJUSTED)
    daily(yard, ["93.2", "93.3"])
    assert early(seen(yard)) is None
    assert adjustments(seen(yard)) == [("2026-05-24", "+0.60 GU", "0.00 GU")]


def test_of_many_warnings_the_first_are_told_and_the_rest_is_counted(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 15))
    one = early(seen(yard))
    assert one is not None
    told = lines([one] * (MOST + 2))
    assert len(told) == MOST + 1
    assert told[-1] == "warning: 2 more of shore: coatbench drift shore"


def test_an_instrument_with_hardly_a_check_is_not_looked_through(yard: Yard) -> None:
    daily(yard, ["93.2", "95.0"])
    with StoreReader(yard.bench.store) as reader:
        assert told_of(reader, "shore", yard.clock.now().utc_ns) == []
        assert told_of(reader, "deck", yard.clock.now().utc_ns) == []


def test_the_status_has_the_warning_below_the_check_of_its_instrument(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.05, 25))
    found = dict(yard.act(yard.acts.status))
    for own in found["instruments"]:  # type: ignore[attr-defined]
        own.setdefault("can_take", False)
    warned = warnings_of(found)
    assert list(warned) == ["shore"]
    shown = status_lines(found, warned)
    place = next(
        k for k, line in enumerate(shown) if line.startswith("  drift  T1 at 20° of shore")
    )
    assert any(line.startswith("  check") for line in shown[:place])
    assert not any(line.startswith("  drift") for line in status_lines(found))


def test_a_store_that_cannot_be_read_costs_the_status_nothing_but_its_warnings(
    yard: Yard, tmp_path: Path
) -> None:
    found = dict(yard.act(yard.acts.status)) | {"store": str(tmp_path / "none.sqlite")}
    assert warnings_of(found) == {}


def test_a_chart_of_plain_characters_shows_limits_checks_and_stretches(yard: Yard) -> None:
    daily(yard, ["93.2", "93.2", "94.6"])
    yard.tell("shore", NoticeKind.ADJUSTED)
    daily(yard, ["93.2"])
    drawn = chart(seen(yard))
    assert len(drawn) == ROWS + 1
    assert drawn[0].split("|")[1] == "  X"
    assert drawn[ROWS // 2] == "   0 |**.o"
    assert sum("=" in row for row in drawn[:ROWS]) == 2
    assert "X beyond the limit" in drawn[-1]
    assert all(sign.isascii() for row in drawn for sign in row)
    assert course(seen(yard)) == "--!|-"


def test_a_long_history_is_drawn_to_the_width_and_says_what_it_leaves_out(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.0, 40))
    drawn = chart(seen(yard), columns=36)
    assert max(len(row) for row in drawn[:ROWS]) <= 36
    assert drawn[-1].endswith("older checks are not shown)")


def test_the_overview_has_a_row_a_piece_and_the_warnings_below(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 15))
    rows = overview_rows([seen(yard)])
    assert rows[0] == ("meter", "piece", "checks", "last", "limit", "left", "state", "course")
    assert rows[1][:5] == ("shore", "T1 at 20°", "15", "+0.40", "1")
    assert rows[1][5].endswith("checks")
    foot = overview_foot([seen(yard)])
    assert any(line.startswith("warning: T1 at 20° of shore will reach") for line in foot)


def test_the_details_say_state_trend_limit_and_the_next_step(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 15))
    text = "\n".join(detail_lines(seen(yard), 80))
    assert "shore, T1 at 20°: not known" in text
    assert "  trend    drifts by +0." in text
    assert "  limit    The deviation reaches +0.7006 GU on about 2026-05-29 (between" in text
    assert "  next     Clean the piece and check again now, and plan a re-adjustment" in text
    assert "Control limits need 20 checks" in text


def test_as_json_a_history_has_its_figures_and_moments(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 15))
    item = item_of(seen(yard))
    assert (item["instrument"], item["piece"], item["channel"]) == ("shore", "T1", "20")
    assert item["checks"] == 15
    assert item["last"]["deviation"] == pytest.approx(0.4)  # type: ignore[index]
    assert item["trend"]["slope_a_day"] == pytest.approx(0.03, abs=0.005)  # type: ignore[index]
    (up,) = [r for r in item["limits"] if r["state"] == "dated"]  # type: ignore[attr-defined]
    assert up["a_check_may_from_utc_ns"] < up["reached_utc_ns"]
    assert {w["about"] for w in item["warnings"]} >= {"limit near"}  # type: ignore[attr-defined]


def test_too_few_checks_say_what_is_missing(yard: Yard) -> None:
    daily(yard, ["93.2"])
    found = seen(yard)
    assert state(found) == "not known"
    assert trend(found).startswith("A trend needs 3 checks")
    assert ahead(found) == []
