"""A certificate that is entered after a check brings nothing back that was suspect.

Wanted by ISO/IEC 17025:2017, 7.10 (what may rest on a wrong figure is held back), from memory; else
figures could be entered until one pleases.
"""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import date
from decimal import Decimal

from acquire.model import Certificate
from acquire.report.proof.checkproof import prove_check
from acquire.report.record.withdrawn import Withdrawals
from acquire.store import StoreReader
from tests.unit.withdrawing import WHY, brackets, certified, later, outcomes, words
from tests.yard import Yard, pieces


def test_a_second_certificate_brings_back_nothing_that_the_first_in_its_place_made_suspect(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    certified(yard, "93.2", "97.2", "93.5", withdrawn=["93.2", "97.2"])
    assert brackets(yard) == [("suspect", True)]
    assert outcomes(yard) == [(1, "fail")]
    assert "does not pass (fail)" in words(yard, 1)
    assert words(yard, 1).endswith(
        "That one does not stand any more, and what it made suspect stays so, since a certificate "
        "that comes after a check brings no reading back"
    )


def test_a_check_that_fails_by_the_one_in_its_place_stays_failed_when_nothing_stands_there_any_more(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    certified(yard, "93.2", "97.2", withdrawn=["93.2", "97.2"])
    assert outcomes(yard) == [(1, "fail"), (2, "fail")]
    assert brackets(yard) == [("suspect", True), ("suspect", True)]


def test_a_check_that_is_undecided_by_the_one_in_its_place_may_fail_yet_and_never_pass(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "94.1", withdrawn=["93.2"])
    assert outcomes(yard) == [(1, "undecided")]
    certified(yard, "93.2", "94.1", "93.5", withdrawn=["93.2", "94.1"])
    assert outcomes(yard) == [(1, "undecided")]
    assert brackets(yard) == [("suspect", True)]
    certified(yard, "93.2", "94.1", "93.5", "97.2", withdrawn=["93.2", "94.1", "93.5"])
    assert outcomes(yard) == [(1, "undecided"), (1, "fail")]


def test_a_withdrawal_that_is_taken_back_in_between_makes_no_way_round(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    certified(yard, "97.2", "93.2", withdrawn=["97.2"])
    certified(yard, "93.2", "97.2", "93.5", withdrawn=["93.2", "97.2"])
    assert outcomes(yard) == [(1, "fail"), (1, "pass"), (1, "fail")]
    assert brackets(yard) == [("suspect", True)]
    yard.restart()
    assert len(outcomes(yard)) == 3


def test_a_withdrawal_that_is_taken_back_leaves_brackets_as_they_were(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    assert brackets(yard) == [("suspect", True), ("suspect", True)]
    certified(yard, "97.2", "93.2", withdrawn=["97.2"])
    assert brackets(yard) == [("bracketed", False), ("open", False)]


def test_with_only_an_overdue_one_in_its_place_a_right_one_still_brings_the_readings_back(
    yard: Yard,
) -> None:
    tile, trap = pieces()
    (first,) = tile.certificates
    ran_out = replace(
        first, issued=first.issued.replace(year=2020), due=first.issued.replace(year=2021)
    )

    def restart(*own: Certificate) -> None:
        yard.close()
        yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=(ran_out, *own)), trap))
        yard.clock.advance(10)
        yard.open()
        yard.plug("shore")

    restart(first)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    gone = replace(first, withdrawn=WHY)
    restart(gone)
    assert outcomes(yard) == [(1, "undecided")]
    restart(gone, replace(first, value=Decimal("93.5")))
    assert outcomes(yard) == [(1, "undecided"), (1, "pass")]
    assert brackets(yard) == [("open", False)]


def test_a_certificate_entered_later_does_not_undo_that_a_closing_check_found_the_pass_outside(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    later(yard, "95.0", withdrawn=False)
    # Inside by its own certificate, and 1.7 from the one by which the pass was opened.
    yard.check("shore", "94.9")
    assert brackets(yard)[0] == ("suspect", False)
    tile, trap = pieces()
    (first,) = tile.certificates
    day = first.issued.replace(month=3)
    own = (
        replace(first, withdrawn=WHY),
        replace(first, issued=day, value=Decimal("95.0")),
        replace(first, issued=date(2026, 4, 1), value=Decimal("93.8")),
    )
    yard.close()
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=own), trap))
    yard.clock.advance(10)
    yard.open()
    assert outcomes(yard) == [(1, "pass")]
    assert brackets(yard)[0] == ("suspect", False)


def test_the_proof_of_a_check_says_what_was_withdrawn_since(yard: Yard) -> None:
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    proved = prove_check(yard.bench.store, 1)
    assert proved.lines[-1] == f"WITHDRAWN SINCE: {words(yard, 1)}"


def test_brackets_of_many_checks_in_a_row_that_pass_no_more_cost_no_more_than_their_number(
    yard: Yard,
) -> None:
    def steps(checks: int) -> int:
        for _ in range(checks):
            yard.clock.advance(60)
            yard.check("shore")
        certified(yard, "93.2", withdrawn=["93.2"])
        counted = 0

        def count() -> int:
            nonlocal counted
            counted += 1
            return 0

        with sqlite3.connect(yard.bench.store) as conn:
            conn.set_progress_handler(count, 100)
            rows = conn.execute("SELECT state, closing_check_id FROM brackets").fetchall()
        conn.close()
        assert set(rows) == {("suspect", None)}
        return counted

    few = steps(15)
    certified(yard, "93.2")
    assert steps(45) < 6 * few, "60 checks, of which each was held against all after it"


def test_a_stage_that_rests_on_many_checks_is_told_in_one_line(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "80.2"):
        yard.press("shore", value)
        yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    with StoreReader(yard.bench.store) as reader:
        (one,) = Withdrawals(reader).suspected()
    assert one.what.startswith(
        "2 readings of gloss20 at bare rest on checks 1, 2. Of check 1: the certificate of T1 at "
    )
    assert one.what.endswith("coatbench report gelcoat has each")
