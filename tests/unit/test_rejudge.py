"""A judgement comes out again as it was made, and is found out where what it used was changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.errors import NotFound
from acquire.report.proof.rejudge import Rejudged, rejudge, rejudge_all
from acquire.store import StoreReader
from tests.unit.test_as_found import Bent
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Bent]:
    yard = Bent(tmp_path)
    yard.plug("shore")
    yield yard
    yard.close()


def read(yard: Yard, *values: str) -> None:
    for value in values:
        yard.clock.advance(1)
        yard.press("shore", value)


def withdrawn(yard: Bent, other: str) -> None:
    """Start anew with another certificate in the place of the high tile's own."""
    (own,) = yard.high.certificates
    anew = (replace(own, withdrawn="typed wrongly"), replace(own, value=Decimal(other)))
    yard.close()
    yard.high = replace(yard.high, certificates=anew)
    yard.clock.advance(10)
    yard.open()


def begin(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))


def again(yard: Yard, check_id: int) -> Rejudged:
    with StoreReader(yard.bench.store) as store:
        return rejudge(store, check_id)


def test_every_kind_of_judgement_comes_out_again_to_the_last_digit_and_letter(yard: Yard) -> None:
    begin(yard)
    read(yard, "93.2", "93.3", "0.0", "0.0", "48.7", "48.7")
    begin(yard)
    read(yard, "95.9", "95.9", "0.0", "0.0", "48.7", "48.7")
    begin(yard)
    read(yard, "93.2", "93.2", "0.0", "0.0", "50.1", "50.1")
    # A slipped press is void, its piece read anew.
    begin(yard)
    read(yard, "93.2", "93.9")
    slipped = yard.readings()[-1]["reading_id"]
    yard.act(lambda at: yard.acts.readings.void(slipped, "meter slipped", at))
    read(yard, "93.2", "93.3", "0.0", "0.0", "48.7", "48.7")
    # Broken off by a hand, with a finding and without, and by the end of the daemon.
    begin(yard)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    begin(yard)
    read(yard, "96.9", "96.9", "0.0")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    begin(yard)
    read(yard, "96.9", "96.9", "0.0")
    yard.restart()
    with StoreReader(yard.bench.store) as store:
        found = list(rejudge_all(store))
    assert [one.outcome for one in found] == [
        "pass", "fail", "fail", "pass", "undecided", "fail", "fail",
    ]  # fmt: skip
    assert [one.unlike for one in found] == [()] * 7
    assert [one.readings for one in found] == [6, 6, 6, 8, 0, 3, 3]
    assert all(one.holds for one in found)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("UPDATE reading SET value = '93.7' WHERE id = 1", "T1 mean 93.2500, and now 93.5000"),
        ("UPDATE reading SET piece = 'T2' WHERE id = 1", "reading 1 is no reading of T1"),
        ("UPDATE certificate SET value = '93.9' WHERE piece = 'T1'", "the certificate of T1"),
        ("UPDATE piece_judgement SET deviation = '0' WHERE id = 1", "T1 deviation 0, and now 0.05"),
        ("UPDATE linearity_judgement SET limit_ = '9'", "T2 limit 9, and now 0.6"),
        ("UPDATE check_judgement SET message = 'fine'", "message 'fine'"),
        ("DELETE FROM piece_judgement WHERE id = 2", "2 rows of piece_judgement, and now 3"),
        (
            "INSERT INTO piece_judgement SELECT 99, check_id, piece, channel, outcome, readings, "
            "mean, spread, certified, deviation, expanded_uncertainty, limit_, spread_limit, unit, "
            "certificate_id, message FROM piece_judgement WHERE id = 2",
            "4 rows of piece_judgement, and now 3",
        ),
        ("UPDATE reading SET value_real = 1 WHERE id = 1", "the value 93.2, and 1.0 as a number"),
        ("UPDATE certificate SET issued = '2020-01-01' WHERE piece = 'T1'", "the certificate of T"),
        ("UPDATE check_judgement SET next_step = 'go'", "next step 'go'"),
        ("UPDATE check_judgement SET expires_utc_ns = expires_utc_ns - 1000000", "expiry "),
        ("UPDATE check_judgement SET expires_utc_ns = expires_utc_ns + 1000000", "expiry "),
        ("UPDATE check_judgement SET presses = 7", "presses covered 7, and now None"),
        ("UPDATE check_judgement SET least_real = 1.0", "least covered 1.0, and now None"),
        ("UPDATE check_judgement SET most_real = 1.0", "most covered 1.0, and now None"),
    ],
)
def test_what_was_changed_afterwards_comes_out_otherwise(
    yard: Yard, change: str, words: str
) -> None:
    begin(yard)
    read(yard, "93.2", "93.3", "0.0", "0.0", "48.7", "48.7")
    path = yard.bench.store
    with closing(sqlite3.connect(path)) as conn:
        for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute(change)
        conn.commit()
    found = again(yard, 1)
    assert not found.holds
    assert any(words in one for one in found.unlike), found.unlike


def test_a_check_of_before_or_of_other_rules_is_told_and_not_called_wrong(yard: Yard) -> None:
    begin(yard)
    read(yard, "93.2", "93.3", "0.0", "0.0", "48.7", "48.7")
    for value, words in (
        (None, "before what it used was kept"),
        ("{}", "cannot be read"),
        (
            '{"edition":0,"on":"2026-05-04","readings":[],"certificates":[],"broken_off":false}',
            "edition 0 of the rules; here are 1 and 2",
        ),
    ):
        with closing(sqlite3.connect(yard.bench.store)) as conn:
            conn.execute("DROP TRIGGER IF EXISTS check_judgement_no_update")
            conn.execute("UPDATE check_judgement SET used_json = ?", (value,))
            conn.commit()
        found = again(yard, 1)
        assert not found.holds
        assert not found.unlike
        assert words in found.lines[0]


def test_a_check_that_is_not_there_or_not_judged_is_told(yard: Yard) -> None:
    begin(yard)
    for number in (1, 2, 2**70):
        with pytest.raises(NotFound, match=f"no judged check {number}"):
            again(yard, number)


def test_the_straight_line_without_a_withdrawn_certificate_is_kept_and_comes_out_again(
    yard: Bent,
) -> None:
    begin(yard)
    read(yard, "93.2", "93.2", "0.0", "0.0", "48.7", "48.7")
    withdrawn(yard, "95.0")
    (line,) = yard.writer.query("SELECT * FROM reassessed_line")
    # By hand: 48.7 - 48.6 * 93.2 / 95.0 = 1.0208.
    assert (line["piece"], line["channel"], line["outcome"]) == ("T2", "20", "fail")
    assert float(line["departure"]) == pytest.approx(1.0208, abs=1e-4)
    assert again(yard, 1).unlike == ()
    path = yard.bench.store
    yard.close()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("DROP TRIGGER reassessed_line_no_update")
        conn.execute("UPDATE reassessed_line SET outcome = 'pass'")
        conn.commit()
    with StoreReader(path) as store:
        (told,) = rejudge(store, 1).unlike
    assert told.endswith("T2 outcome pass, and now fail")
