"""What becomes of readings and brackets when a certificate is withdrawn as wrong.

Wanted by ISO/IEC 17025:2017, 7.10 (what may rest on a wrong figure is evaluated and held
back), from memory. The tile of the yard is certified 93.2 GU and held to 1.0 GU.
"""

from __future__ import annotations

import sqlite3
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.errors import Refused
from acquire.report.evidence.evidence import evidence_of
from acquire.report.proof.checkproof import prove_check
from acquire.report.proof.rejudge import rejudge
from acquire.report.record.loading import load_trial
from acquire.report.record.record import Standing
from acquire.report.record.withdrawn import Withdrawals
from acquire.report.sections.events import events
from acquire.store import StoreReader
from acquire.store.check_rows import ReassessedLineRow, ReassessedPieceRow, ReassessmentRow
from acquire.store.progress import Progress
from tests.unit.withdrawing import WHY, brackets, certified, later, outcomes, words
from tests.yard import Yard


def test_what_a_check_opened_that_fails_by_the_right_certificate_leaves_the_results(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    (reading,) = yard.readings("role = 'run'")
    assert (reading["counts"], reading["bracket"]) == (0, "suspect")
    assert outcomes(yard) == [(1, "fail")]
    # The judgement of then is what it was.
    (judged,) = yard.writer.query("SELECT outcome FROM check_judgement")
    assert judged["outcome"] == "pass"


def test_its_places_are_open_again_for_the_run_that_was_interrupted(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "80.2"):
        yard.press("shore", value)
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    yard.check("shore", "97.2")
    yard.act(yard.acts.runs.resume)
    for value in ("81.1", "81.2", "81.3", "81.4"):
        yard.press("shore", value)
    found = [(r["zone"], r["value"], r["counts"]) for r in yard.readings("role = 'run'")]
    assert found == [
        ("A1", "80.1", 0), ("A2", "80.2", 0),
        ("A1", "81.1", 1), ("A2", "81.2", 1), ("A1", "81.3", 1), ("A2", "81.4", 1),
    ]  # fmt: skip
    with StoreReader(yard.bench.store) as reader:
        assert Withdrawals(reader).suspected() == []


def test_places_read_again_after_a_restart_stay_filled_at_the_next_one(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    yard.check("shore", "97.2")
    yard.act(yard.acts.runs.resume)
    yard.press("shore", "81.1")
    yard.act(yard.acts.runs.skip)
    yard.restart()
    yard.plug("shore")
    yard.check("shore", "97.2")
    yard.act(yard.acts.runs.resume)
    yard.press("shore", "81.2")
    found = [(r["zone"], r["replicate"], r["counts"]) for r in yard.readings("role = 'run'")]
    assert found == [("A1", 1, 0), ("A1", 1, 1), ("A1", 2, 1)]


def test_a_check_that_passes_by_the_right_one_too_keeps_its_readings_and_its_figures_are_new(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "93.7", withdrawn=["93.2"])
    assert brackets(yard) == [("open", False)]
    record = load_trial(yard.bench.store, "gelcoat")
    (check,) = record.checks
    assert check.pieces[0].deviation == 0, "as it was judged then"
    assert check.held[0].deviation == Decimal("-0.5"), "what results are reckoned by"
    assert check.held[0].certificate is not None
    assert not check.held[0].certificate.withdrawn
    (anchor,) = (a for one in evidence_of(record) for a in one.anchors)
    assert anchor.opening.certified == Decimal("93.7")


def drifted(yard: Yard) -> None:
    """A reading under the first certificate, closed by a check under a later, wrong one."""
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    later(yard, "94.1", withdrawn=False)
    yard.check("shore", "93.8")
    assert brackets(yard) == [("bracketed", False), ("open", False)]


def test_what_it_had_closed_is_suspect_where_a_closing_check_fails_without_its_certificate(
    yard: Yard,
) -> None:
    drifted(yard)
    later(yard, "94.1", withdrawn=True, right="95.4")
    assert outcomes(yard) == [(2, "fail")]
    assert brackets(yard) == [("suspect", True), ("suspect", True)]
    assert "What it opened and closed is suspect" in words(yard, 2)
    record = load_trial(yard.bench.store, "gelcoat")
    (reading,) = record.readings
    assert reading.standing is Standing.SUSPECT
    doubted = record.doubted(reading.check_id, reading.closing_check_id)
    assert doubted is not None
    assert doubted.id == 2


def test_where_it_is_undecided_it_closes_nothing_and_the_next_check_does(yard: Yard) -> None:
    drifted(yard)
    later(yard, "94.1", withdrawn=True, right="92.9")
    assert outcomes(yard) == [(2, "undecided")]
    assert brackets(yard) == [("open", False), ("suspect", True)]
    assert "What it opened is suspect" in words(yard, 2)
    yard.check("shore", "93.3")
    assert brackets(yard)[0] == ("bracketed", False)


def test_a_pass_is_closed_by_its_limits_about_the_certificate_that_stands(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "93.9", withdrawn=["93.2"])
    # 1.3 from the withdrawn value and 0.6 from the one in its place.
    yard.check("shore", "94.5")
    assert brackets(yard) == [("bracketed", False), ("open", False)]


def test_what_a_check_made_suspect_by_a_wrong_certificate_stays_suspect(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    later(yard, "39.2", withdrawn=False)
    yard.check("shore", "93.2")
    assert brackets(yard) == [("suspect", False)]
    later(yard, "39.2", withdrawn=True)
    assert outcomes(yard) == [(2, "pass")]
    assert brackets(yard) == [("suspect", False)]
    assert words(yard, 2).endswith(
        "By the one in its place the check would have passed. What it made suspect stays so, since "
        "a certificate that comes after a check brings no reading back"
    )


def test_without_any_certificate_in_its_place_nothing_shows_that_the_meter_was_inside(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", withdrawn=["93.2"])
    assert outcomes(yard) == [(1, "undecided")]
    assert brackets(yard) == [("suspect", True)]
    # With the right one the check passes, and what it opened counts again.
    certified(yard, "93.2", "93.5", withdrawn=["93.2"])
    assert outcomes(yard) == [(1, "undecided"), (1, "pass")]
    assert brackets(yard) == [("open", False)]


def test_a_check_is_judged_anew_once_for_the_same_certificates(yard: Yard) -> None:
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    yard.restart()
    yard.restart()
    assert outcomes(yard) == [(1, "fail")]


def test_checks_by_other_certificates_are_not_judged_anew(yard: Yard) -> None:
    yard.check("shore")
    later(yard, "94.1", withdrawn=True)
    assert outcomes(yard) == []


def test_it_is_recomputed_digit_for_digit_and_a_changed_figure_is_found(yard: Yard) -> None:
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    with StoreReader(yard.bench.store) as reader:
        assert rejudge(reader, 1).holds
    path = yard.bench.store
    yard.close()
    changed(path, "UPDATE reassessed_piece SET certified = '93.3' WHERE piece = 'T1'")
    with StoreReader(path) as reader:
        (told,) = rejudge(reader, 1).unlike
    assert told.startswith("judged anew on 2026-")
    assert told.endswith("T1 certified 93.3, and now 97.2")


def changed(path: Path, sql: str) -> None:
    """What somebody does who takes the guards away first."""
    with sqlite3.connect(path) as file:
        for (name,) in file.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' "
            "AND tbl_name = 'reassessed_piece'"
        ).fetchall():
            file.execute(f"DROP TRIGGER {name}")
        file.execute(sql)
    file.close()


def test_a_loose_reading_of_then_may_not_be_assigned_any_more(yard: Yard) -> None:
    yard.check("shore")
    yard.press("shore", "80.1")
    yard.begin()
    yard.press("shore", "80.3")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    (loose,) = yard.readings("role = 'loose'")
    number = int(str(loose["reading_id"]))
    with pytest.raises(Refused, match="does not pass without a certificate that was withdrawn"):
        yard.act(
            lambda at: yard.acts.readings.assign(
                number, "gelcoat", None, "A2", "bare", 1, "early", at
            )
        )


def test_the_trial_is_told_as_one_with_suspect_places(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    with StoreReader(yard.bench.store) as reader:
        (taken,) = Progress(reader.rows).taken("gelcoat")
    assert (taken.stage, taken.state, taken.places) == ("bare", "suspect", 1)


def test_the_page_tells_it_as_an_event_with_its_reason(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    (event,) = events(load_trial(yard.bench.store, "gelcoat"))
    assert event.title == (
        "A certificate of check 1 of shore was withdrawn, and 1 reading became suspect"
    )
    assert WHY in event.happened
    assert event.done == "Their places have not been read again."


def test_a_certificate_that_is_withdrawn_no_more_stands_for_its_checks_again(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    certified(yard, "97.2", "93.2", withdrawn=["97.2"])
    assert outcomes(yard) == [(1, "fail"), (1, "pass")]
    assert brackets(yard) == [("open", False)]
    assert words(yard, 1) == ""


def test_a_check_that_the_end_of_the_daemon_broke_off_is_judged_anew_at_the_same_start(
    yard: Yard,
) -> None:
    yard.check("shore", "93.5")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.clock.advance(1)
        yard.press("shore", "92.3")
    certified(yard, "93.2", "93.8", withdrawn=["93.2"])
    assert outcomes(yard) == [(1, "pass"), (2, "fail")]
    assert "not been judged anew yet" not in words(yard, 2)
    yard.restart()
    assert len(outcomes(yard)) == 2


def test_a_certificate_that_was_withdrawn_for_a_while_is_told_with_what_came_of_it(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    certified(yard, "97.2", "93.2", withdrawn=["97.2"])
    certified(yard, "97.2", "93.2", "93.3", withdrawn=["97.2", "93.2"])
    certified(yard, "97.2", "93.3", "93.2", withdrawn=["97.2", "93.3"])
    check = load_trial(yard.bench.store, "gelcoat").check(1)
    assert check is not None
    (line,) = check.lines
    assert line == (
        "a certificate that it rests on was withdrawn for a while. Judged anew without that it "
        "failed on 4 May 2026, then passed on 4 May 2026, then failed on 4 May 2026. Since 4 May "
        "2026 the certificate stands again, and so does the judgement of then"
    )
    assert prove_check(yard.bench.store, 1).lines[-1] == f"WITHDRAWN SINCE: {line}"


@pytest.mark.parametrize(("bent", "state"), [("20", "suspect"), ("60", "open")])
def test_a_straight_line_that_fails_anew_counts_at_its_own_angle_beside_a_piece_at_another(
    yard: Yard, bent: str, state: str
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    assert brackets(yard) == [("bracketed", False), ("open", False)]
    at = yard.clock.now().utc_ns
    yard.writer.append(
        [
            ReassessmentRow(1, at, 2, "fail", "outside", "{}", 0, 2),
            ReassessedPieceRow(1, 1, 2, "T1", "60", "fail", "93.2", "3.1", "0.3", None, "outside"),
            ReassessedLineRow(1, 1, 2, "T2", bent, "fail", "1.4", "0.3", "off the line"),
        ]
    )
    assert brackets(yard)[0] == (state, state == "suspect")
