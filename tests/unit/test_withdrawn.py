"""Readings whose check rests on a certificate that was withdrawn as wrong afterwards.

Wanted by ISO/IEC 17025:2017, 7.10 (nonconforming work is evaluated and decided on), from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.report.record.loading import load_trial
from acquire.report.record.withdrawn import Suspected, Withdrawals
from acquire.report.terminal.shortlines import short_lines
from acquire.store import StoreReader
from tests.yard import Yard, pieces

WHY = "typed 93.2 instead of 97.2"


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yield yard
    yard.close()


def withdraw(yard: Yard, right: str | None) -> None:
    """Withdraw the certificate of the tile; the right one below it, if there is one."""
    tile, trap = pieces()
    (wrong,) = tile.certificates
    own = [replace(wrong, withdrawn=WHY)]
    if right is not None:
        own.append(replace(wrong, value=Decimal(right)))
    yard.close()
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=tuple(own)), trap))
    yard.open()


def told(yard: Yard) -> str:
    with StoreReader(yard.bench.store) as reader:
        return "\n".join(Withdrawals(reader).words(1))


def test_a_check_that_does_not_pass_by_the_right_one_is_named_with_what_is_to_do(
    yard: Yard,
) -> None:
    assert told(yard) == ""
    withdraw(yard, "97.2")
    said = told(yard)
    assert said.startswith(
        f"the certificate of T1 at 20° issued 2026-01-31 (93.2 GU) was withdrawn: {WHY}. By the "
        "one in its place the check does not pass (fail): T1 at 20° read 93.20 GU, -4.00 from its "
        "certified 97.2 GU"
    )
    assert "What it opened and closed is suspect and left out of the results: take it again" in said
    # The judgement itself stays, and comes out again by the certificate of then.
    assert yard.writer.query("SELECT outcome FROM check_judgement")[0][0] == "pass"


def test_one_that_passes_by_the_right_one_too_stands_and_is_named(yard: Yard) -> None:
    withdraw(yard, "93.4")
    assert told(yard).endswith("the check passes too, and what rests on it stands")


def test_without_another_certificate_a_check_is_not_shown_to_pass(yard: Yard) -> None:
    withdraw(yard, None)
    assert "does not pass (undecided): T1 at 20° has no certificate" in told(yard)


def test_results_and_report_name_it_wherever_the_checks_around_readings_are_told(
    yard: Yard,
) -> None:
    withdraw(yard, "97.2")
    short = "\n".join(short_lines(yard.bench.store, "gelcoat"))
    assert "1 suspect reading is left out of the results: check 1: the certificate of T1" in short
    assert WHY in short
    (check,) = load_trial(yard.bench.store, "gelcoat").checks
    assert check.pieces[0].certificate is not None
    assert check.pieces[0].certificate.withdrawn == WHY


def test_what_is_suspect_is_told_until_the_readings_are_void(yard: Yard) -> None:
    withdraw(yard, "97.2")
    (one,) = suspected(yard)
    assert (one.trial, one.stage, one.check_id) == ("gelcoat", "bare", 1)
    assert one.what.startswith("1 reading of gloss20 at bare rests on check 1: the certificate of")
    (number,) = [row["reading_id"] for row in yard.readings("role = 'run'")]
    yard.act(lambda at: yard.acts.readings.void(int(str(number)), "wrong certificate", at))
    assert suspected(yard) == []


def test_what_passes_by_the_right_one_too_is_not_told(yard: Yard) -> None:
    withdraw(yard, "93.4")
    assert suspected(yard) == []


def suspected(yard: Yard) -> list[Suspected]:
    with StoreReader(yard.bench.store) as reader:
        return Withdrawals(reader).suspected()
