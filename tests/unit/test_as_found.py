"""Around a re-adjustment: as found before, as left after; and what a verdict says of its pass."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.live.adjusted import as_found_as_left
from acquire.live.verdict import verdict
from acquire.model import NoticeKind, PieceRule
from acquire.store.reader import StoreReader
from tests.unit.test_validity import Strict
from tests.unit.withdrawing import certified
from tests.yard import Yard, pieces


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Strict(tmp_path, valid_for_presses=400, span=(Decimal(0), Decimal(120)))
    yard.plug("shore")
    yield yard
    yard.close()


def told(yard: Yard) -> list[str]:
    with StoreReader(yard.bench.store) as store:
        check_id = store.one("SELECT max(check_id) FROM check_judgement")
        return verdict(store, int(check_id or 0), yard.clock.now().utc_ns)[1]


def test_the_check_after_a_re_adjustment_tells_how_the_meter_was_found_and_left(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore", tile="93.3")
    lines = told(yard)
    before = "as found: T1 at 20° +2.40 GU, Z0 at 20° 0.00 GU (check 1, before the re-adjustment)"
    assert before in lines
    assert "as left:  T1 at 20° +0.10 GU, Z0 at 20° 0.00 GU" in lines


def test_a_check_without_a_re_adjustment_before_it_tells_nothing_of_that(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    yard.check("shore")
    assert not [line for line in told(yard) if line.startswith("as ")]


def test_a_check_broken_off_without_figures_is_not_how_it_was_found(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    assert [line for line in told(yard) if "(check 1, before the re-adjustment)" in line]


def test_the_adjustment_of_another_meter_is_none(yard: Yard) -> None:
    yard.plug("deck")
    yard.check("shore", tile="95.6")
    yard.tell("deck", NoticeKind.ADJUSTED)
    yard.check("shore")
    assert not [line for line in told(yard) if line.startswith("as ")]


def test_a_verdict_says_how_long_for_how_many_presses_and_in_which_range(yard: Yard) -> None:
    yard.check("shore")
    (line,) = [line for line in told(yard) if line.startswith("valid for")]
    assert line.endswith(", for 400 presses at most, from 0 to 120 GU")


class Bent(Yard):
    """A yard with a middle tile, whose policy asks for a straight line."""

    high, trap = pieces()

    def open(self) -> None:
        high, trap = self.high, self.trap
        certificate = high.certificates[-1]
        middle = replace(
            high,
            id="T2",
            certificates=(replace(certificate, piece="T2", value=Decimal("48.6")),),
        )
        shore, deck = self.bench.instruments
        own = [rule for rule in shore.policy.rules if rule.piece != "T2"]
        rules = (*own, PieceRule("T2", 2, Decimal(2), Decimal("0.4")))
        policy = replace(shore.policy, rules=rules, linearity_limit=Decimal("0.6"))
        self.bench = replace(
            self.bench,
            instruments=(replace(shore, policy=policy), deck),
            pieces=(high, middle, trap),
        )
        super().open()


@pytest.mark.parametrize(
    ("middle", "outcome", "tail"),
    [("48.7", "PASS", "inside"), ("50.0", "FAIL", "outside: the meter is not linear")],
)
def test_how_straight_a_meter_reads_is_told_and_decides(
    tmp_path: Path, middle: str, outcome: str, tail: str
) -> None:
    yard = Bent(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.2", "93.2", "0.0", "0.0", middle, middle):
        yard.clock.advance(1)
        yard.press("shore", value)
    lines = told(yard)
    assert lines[0] == f"check 1 of shore: {outcome}"
    (line,) = [line for line in lines if line.startswith("linearity: T2 at 20° lies ")]
    assert "off the straight line from Z0 to T1" in line
    assert line.endswith(tail)
    yard.close()


def test_as_found_goes_by_the_certificate_in_the_place_of_one_that_was_withdrawn(
    yard: Yard,
) -> None:
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore", tile="93.3")
    certified(yard, "93.2", "93.5", withdrawn=["93.2"])
    with StoreReader(yard.bench.store) as store:
        lines = as_found_as_left(store, 2)
    anew = "(T1 by the certificate that the check was judged anew by)"
    assert lines == [
        f"as found: T1 at 20° +2.10 GU, Z0 at 20° 0.00 GU {anew} (check 1, before the "
        "re-adjustment)",
        f"as left:  T1 at 20° -0.20 GU, Z0 at 20° 0.00 GU {anew}",
    ]
