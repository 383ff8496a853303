"""Beside a check on the page: what it means, what it covered, the room, re-adjustments."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from acquire.model import NoticeKind
from acquire.report.record.loading import load_trial
from acquire.report.sections.checks import check_blocks
from tests.unit.test_validity import Strict


def test_a_check_is_explained_to_who_knows_nothing_of_the_program(tmp_path: Path) -> None:
    yard = Strict(tmp_path, valid_for_presses=400, span=(Decimal(-1), Decimal(120)))
    yard.plug("shore")
    yard.act(lambda at: yard.acts.climate.enter(Decimal("21.4"), Decimal(48), at))
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore", tile="94.1")
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore", tile="93.3")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.close()
    first, undecided, failed, left, abandoned = check_blocks(
        load_trial(yard.bench.store, "gelcoat")
    )
    assert first.life.startswith(
        "Good for at most 400 presses and values from −1 to 120 GU. Covered readings from"
    )
    assert "The room had 21.4 °C, 48 % humidity, as it was typed in." in first.beside
    assert first.meaning == ""
    assert undecided.outcome == "undecided"
    assert "The check cannot say on which side" in undecided.meaning
    assert "those since the last check that passed are suspect" in failed.meaning
    assert (
        f"As found, by check {failed.id}: T1 at 20° +2.40 GU, Z0 at 20° 0.00 GU; as left, by this "
        "one: T1 at 20° +0.10 GU" in left.beside
    )
    assert abandoned.meaning == ""
    assert abandoned.message
