"""Past checks out of the store: which are points, what cuts a history, whose history it is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.drift.reading import histories
from acquire.history.segments import Cut
from acquire.model import NoticeKind
from acquire.store.reader import StoreReader
from tests.unit.drifting import DAY_S, daily, only, told, yard_of
from tests.yard import Yard, pieces


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = yard_of(tmp_path)
    yield made
    made.close()


def deviations(yard: Yard) -> list[float]:
    return only(yard).series.deviation.round(4).tolist()


def test_a_store_without_a_judged_check_has_no_history(yard: Yard) -> None:
    assert told(yard) == []
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    assert told(yard) == []


def test_each_judged_check_is_a_point_of_each_piece(yard: Yard) -> None:
    daily(yard, ["93.2", "93.4", "93.1"], ["0.0", "0.1", "0.0"])
    assert deviations(yard) == [0.0, 0.2, -0.1]
    tile, trap = told(yard, piece="")
    assert (tile.key.piece, trap.key.piece) == ("T1", "Z0")
    assert trap.series.deviation.tolist() == [0.0, 0.1, 0.0]
    assert tile.series.checks == (1, 2, 3)
    assert tile.series.days.tolist() == [0.0, 1.0, 2.0]
    assert (tile.instrument, tile.key.serial, tile.place) == ("shore", "SH-0417", "T1 at 20°")
    assert (tile.key.unit, tile.limit, tile.resolution) == ("gloss_unit", 1.0, 0.1)
    stored = "SELECT expanded_uncertainty FROM piece_judgement WHERE check_id = 3 AND piece = 'T1'"
    assert tile.guard == float(yard.writer.query(stored)[0][0])


def test_a_failed_and_an_undecided_check_are_points_too(yard: Yard) -> None:
    daily(yard, ["93.2", "95.2", "94.1"])
    assert [row[0] for row in yard.writer.query("SELECT outcome FROM check_judgement")] == [
        "pass", "fail", "undecided",
    ]  # fmt: skip
    assert deviations(yard) == [0.0, 2.0, 0.9]


def test_of_a_check_that_was_broken_off_only_pieces_read_in_full_are_points(yard: Yard) -> None:
    yard.check("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.4", "93.4", "0.1"):
        yard.clock.advance(1)
        yard.press("shore", value)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    tile, trap = told(yard, piece="")
    assert tile.series.deviation.round(4).tolist() == [0.0, 0.2]
    assert trap.series.deviation.tolist() == [0.0]


def test_a_piece_read_less_often_than_the_policy_wants_is_no_point_though_it_was_judged(
    yard: Yard,
) -> None:
    """A broken-off check judges what was read twice; a policy that wants three has no figure."""
    spec = yard.desk.standings["shore"].spec
    rules = tuple(replace(rule, readings=3) for rule in spec.policy.rules)
    yard.desk.standings["shore"].spec = replace(spec, policy=replace(spec.policy, rules=rules))
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.clock.advance(1)
        yard.press("shore", "93.4")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    ((judged,),) = yard.writer.query("SELECT count(*) FROM piece_judgement WHERE readings = 2")
    assert judged == 1
    assert told(yard) == []


def test_a_voided_reading_is_in_no_point(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.9")
    number = yard.writer.query("SELECT max(id) FROM reading")[0][0]
    yard.act(lambda at: yard.acts.readings.void(number, "it slipped", at))
    for value in ("93.2", "93.4", "0.0", "0.0"):
        yard.clock.advance(1)
        yard.press("shore", value)
    assert deviations(yard) == [0.1]


def test_a_readjustment_between_two_checks_cuts_the_history(yard: Yard) -> None:
    daily(yard, ["93.2", "93.8"])
    yard.tell("shore", NoticeKind.ADJUSTED)
    daily(yard, ["93.2", "93.3"])
    seen = only(yard).seen(yard.clock.now().utc_ns)
    assert [(s.cut, len(s)) for s in seen.outlook.segments] == [
        (Cut.FIRST, 2), (Cut.READJUSTED, 2),
    ]  # fmt: skip


def test_a_readjustment_in_the_midst_of_a_check_counts_for_the_next_one(yard: Yard) -> None:
    yard.check("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.9", "93.9"):
        yard.clock.advance(1)
        yard.press("shore", value)
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.clock.advance(1)
    yard.check("shore")
    assert deviations(yard) == [0.0, 0.7, 0.0]
    assert only(yard).series.was_readjusted.tolist() == [False, False, True]


def test_the_adjust_key_of_another_meter_cuts_nothing(yard: Yard) -> None:
    yard.plug("deck")
    daily(yard, ["93.2"])
    yard.tell("deck", NoticeKind.ADJUSTED)
    daily(yard, ["93.2"])
    assert only(yard).series.was_readjusted.tolist() == [False, False]


def test_the_order_of_recording_says_where_a_readjustment_was_though_the_clock_was_set_back(
    yard: Yard,
) -> None:
    daily(yard, ["93.2", "93.8"])
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.set_back(10 * DAY_S)
    yard.clock.advance(1)
    yard.check("shore")
    assert only(yard).series.was_readjusted.tolist().count(True) == 1


def test_checks_after_a_clock_that_ran_ahead_keep_their_own_days(yard: Yard) -> None:
    daily(yard, ["93.2"])
    yard.clock.jump(20 * DAY_S)
    daily(yard, ["93.3"])
    yard.set_back(20 * DAY_S)
    daily(yard, ["93.4", "93.5", "93.6"])
    series = only(yard).series
    assert series.checks == (1, 2, 3, 4, 5)
    # When the second one was is not known: no later than the third.
    assert series.days.round(3).tolist() == [0, 2, 2, 3, 4]


def test_points_know_the_certificate_they_were_held_against(tmp_path: Path) -> None:
    yard = yard_of(tmp_path)
    daily(yard, ["93.2", "93.3"])
    series = only(yard).series
    assert set(series.certificates) == {"1"}
    assert set(series.certified) == {93.2}
    assert set(series.u_certified) == {0.15}
    yard.close()


def test_another_certified_value_cuts_where_it_does_not_agree(tmp_path: Path) -> None:
    yard = yard_of(tmp_path)
    daily(yard, ["93.2", "93.2"])
    one = replace(yard.bench, pieces=pieces(tile="94.4"))
    newer = replace(
        one.pieces[0],
        certificates=(
            *yard.bench.pieces[0].certificates,
            replace(one.pieces[0].certificates[0], issued=date(2026, 3, 31)),
        ),
    )
    yard.close()
    yard.bench = replace(yard.bench, pieces=(newer, yard.bench.pieces[1]))
    yard.open()
    yard.plug("shore")
    daily(yard, ["94.4", "94.4"])
    seen = only(yard).seen(yard.clock.now().utc_ns)
    assert [(s.cut, len(s)) for s in seen.outlook.segments] == [
        (Cut.FIRST, 2), (Cut.CERTIFICATE, 2),
    ]  # fmt: skip
    yard.close()


def test_what_was_judged_before_there_was_a_register_stands_in_one_history_with_the_rest(
    yard: Yard,
) -> None:
    daily(yard, ["93.2", "93.4", "93.1"], ["0.0", "0.1", "0.2"])
    yard.writer.db.execute("DROP TRIGGER piece_judgement_no_update")
    yard.writer.db.execute("UPDATE piece_judgement SET certificate_id = NULL WHERE check_id = 2")
    yard.writer.db.conn.commit()
    tile, trap = told(yard, piece="")
    assert tile.series.deviation.round(4).tolist() == [0.0, 0.2, -0.1]
    assert trap.series.deviation.round(4).tolist() == [0.0, 0.1, 0.2]
    assert [(h.series.checks, h.series.certificates) for h in (tile, trap)] == [
        ((1, 2, 3), ("1", "0", "1")),
        ((1, 2, 3), ("2", "0", "2")),
    ]
    assert tile.series.certified[1] is None
    yard.writer.db.execute("UPDATE piece_judgement SET certificate_id = NULL")
    yard.writer.db.conn.commit()
    assert [h.key.piece for h in told(yard, piece="")] == ["T1", "Z0"]
    assert deviations(yard) == [0.0, 0.2, -0.1]


def test_two_meters_have_histories_of_their_own_and_one_can_be_asked_for(yard: Yard) -> None:
    yard.plug("deck")
    yard.check("shore", tile="93.3")
    yard.check("deck", tile="93.0")
    both = told(yard)
    assert [(h.instrument, h.key.serial) for h in both] == [
        ("shore", "SH-0417"), ("deck", "DK-2205"),
    ]  # fmt: skip
    (deck,) = told(yard, "deck")
    assert deck.series.deviation.round(4).tolist() == [-0.2]
    assert told(yard, "nobody") == []


def test_an_exchanged_meter_keeps_its_history_apart_and_is_not_in_use(yard: Yard) -> None:
    daily(yard, ["93.4"])
    spec = replace(yard.bench.instruments[0], serial="SH-0999")
    yard.close()
    yard.bench = replace(yard.bench, instruments=(spec, yard.bench.instruments[1]))
    yard.open()
    yard.plug("shore")
    daily(yard, ["93.1"])
    new, old = told(yard)
    assert (new.key.serial, new.is_present) == ("SH-0999", True)
    assert (old.key.serial, old.is_present) == ("SH-0417", False)
    assert len(new.series) == len(old.series) == 1


def test_a_channel_alone_can_be_asked_for(yard: Yard) -> None:
    daily(yard, ["93.2"])
    with StoreReader(yard.bench.store) as reader:
        assert len(histories(reader, channel="20")) == 2
        assert histories(reader, channel="60") == []


def test_a_policy_that_says_nothing_of_its_pieces_gives_no_points(yard: Yard) -> None:
    """As stores hold that were written by hand, or by a program that knew less."""
    daily(yard, ["93.2"])
    assert json.loads(json.dumps(asdict(yard.bench.instruments[0].policy), default=str))["rules"]
    yard.writer.db.execute("DROP TRIGGER check_begin_no_update")
    yard.writer.db.execute("UPDATE check_begin SET policy_json = '{}'")
    assert told(yard) == []


def test_a_check_by_a_withdrawn_certificate_is_a_point_by_the_one_in_its_place(
    yard: Yard,
) -> None:
    daily(yard, ["93.2", "93.4"])
    tile, trap = pieces()
    (first,) = tile.certificates
    own = (replace(first, withdrawn="of another tile"), replace(first, value=Decimal("93.5")))
    yard.close()
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=own), trap))
    yard.open()
    yard.plug("shore")
    daily(yard, ["93.3"])
    assert deviations(yard) == [-0.3, -0.1, -0.2]
    assert set(only(yard).series.certified) == {93.5}
