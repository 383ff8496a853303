"""A slipped press on a reference piece can be voided, and no void gets round the gate."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.errors import Refused
from tests.two_angles import ANGLES, TwoAngleYard
from tests.unit.reported import page, small
from tests.yard import Yard


def begin(yard: Yard, *values: str) -> None:
    """A check under way with these readings. T1 wants two near 93.2, then Z0 two near 0.0."""
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, *values)


def press(yard: Yard, *values: str) -> None:
    for value in values:
        yard.clock.advance(1)
        yard.press("shore", value)


def void(yard: Yard, reading_id: int, reason: str = "slipped off the tile") -> dict[str, object]:
    return yard.act(lambda at: yard.acts.readings.void(reading_id, reason, at))


def outcomes(yard: Yard) -> list[str]:
    return [r["outcome"] for r in yard.writer.query("SELECT outcome FROM checks ORDER BY check_id")]


def voids(yard: Yard) -> dict[int, str]:
    rows = yard.writer.query("SELECT reading_id, reason FROM void ORDER BY reading_id")
    return {r["reading_id"]: r["reason"] for r in rows}


def test_a_slipped_press_is_voided_and_the_check_passes_on_the_readings_that_count(
    yard: Yard,
) -> None:
    begin(yard, "61.0")
    answer = void(yard, 1)
    assert (answer["piece"], answer["check_id"], answer["readings"]) == ("T1", 1, [1])
    press(yard, "93.2", "93.2", "0.0", "0.0")
    assert outcomes(yard) == ["pass"]
    (tile,) = yard.writer.query("SELECT readings, mean FROM piece_judgement WHERE piece = 'T1'")
    assert (tile["readings"], float(tile["mean"])) == (2, 93.2)


def test_a_piece_with_a_voided_reading_is_read_anew_in_full(yard: Yard) -> None:
    begin(yard, "93.2", "61.0")
    answer = void(yard, 2)
    assert answer["readings"] == [1, 2]
    assert voids(yard) == {
        1: "T1 is read anew, since reading 2 is void: slipped off the tile",
        2: "slipped off the tile",
    }
    press(yard, "93.2")
    checking = yard.desk.standings["shore"].checking
    assert checking is not None
    assert checking.rule is not None
    assert (checking.rule.piece, checking.count("20")) == ("T1", 1)


def test_the_check_goes_back_to_an_earlier_piece_and_then_on_where_it_was(yard: Yard) -> None:
    begin(yard, "93.2", "92.1", "0.0")
    void(yard, 2)
    press(yard, "93.2", "93.2", "0.0")
    assert outcomes(yard) == ["pass"]
    pieces = [f["piece"] for f in yard.readings("void_reason IS NULL")]
    assert pieces == ["Z0", "T1", "T1", "Z0"]


def test_a_piece_is_voided_once_in_a_check_and_not_until_it_fits(yard: Yard) -> None:
    begin(yard, "92.0")
    void(yard, 1)
    press(yard, "93.2", "92.0")
    with pytest.raises(Refused) as refused:
        void(yard, 3)
    assert refused.value.reason == "voided once already"
    assert "--abandon" in refused.value.next_step
    assert sorted(voids(yard)) == [1]


def test_two_readings_outside_the_limit_are_a_finding_and_no_slip(yard: Yard) -> None:
    begin(yard, "95.6", "96.9")
    with pytest.raises(Refused) as refused:
        void(yard, 2)
    assert refused.value.reason == "found outside"
    assert "95.6, 96.9" in refused.value.got
    press(yard, "0.0", "0.0")
    assert outcomes(yard) != ["pass"]
    assert voids(yard) == {}


@pytest.mark.parametrize("read", ["94.3", "92.1"])
def test_a_finding_is_what_lies_outside_by_however_little(yard: Yard, read: str) -> None:
    begin(yard, read, read)
    with pytest.raises(Refused) as refused:
        void(yard, 2)
    assert refused.value.reason == "found outside"


@pytest.mark.parametrize("outside", ["20", "60"])
def test_two_readings_outside_at_one_angle_are_a_finding(tmp_path: Path, outside: str) -> None:
    yard = TwoAngleYard(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press_both(*("95.6" if angle == outside else "93.2" for angle in ANGLES))
    with pytest.raises(Refused) as refused:
        void(yard, 4)
    assert refused.value.reason == "found outside"
    yard.close()


def test_a_slip_at_every_angle_of_one_press_is_one_slip(yard: Yard) -> None:
    desk = yard.desk
    standing = desk.standings["shore"]
    both = replace(standing.spec.policy, channels=("20", "60"))
    standing.spec = replace(standing.spec, policy=both)
    tile, trap = desk.bench.pieces
    at_60 = replace(tile.certificates[0], channel="60")
    desk.bench = replace(
        desk.bench, pieces=(replace(tile, certificates=(*tile.certificates, at_60)), trap)
    )
    begin(yard)
    for value in ("93.2", "61.0"):
        for channel in ("20", "60"):
            yard.press("shore", value, channel=channel)
    assert void(yard, 4)["readings"] == [1, 2, 3, 4]
    checking = standing.checking
    assert checking is not None
    assert [checking.count(channel) for channel in ("20", "60")] == [0, 0]


def test_what_was_voided_still_counts_as_found_when_the_check_is_broken_off(yard: Yard) -> None:
    yard.check("shore")
    begin(yard, "95.6")
    void(yard, 5)
    press(yard, "95.6")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert outcomes(yard) == ["pass", "fail"]
    assert yard.desk.standings["shore"].passed is None


def test_a_voided_reading_beside_one_after_it_is_a_finding_that_neither_is_alone(
    yard: Yard,
) -> None:
    begin(yard, "95.0")
    void(yard, 1)
    press(yard, "94.9")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert outcomes(yard) == ["fail"]


def test_a_check_whose_only_reading_is_void_still_ends_the_pass_when_broken_off(
    yard: Yard,
) -> None:
    yard.check("shore")
    begin(yard, "61.0")
    void(yard, 5)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert yard.desk.standings["shore"].passed is None


def test_a_judged_check_takes_no_void_and_a_void_needs_a_reason(yard: Yard) -> None:
    yard.check("shore")
    with pytest.raises(Refused) as refused:
        void(yard, 1)
    assert refused.value.reason == "check judged"
    assert refused.value.next_step == "coatbench check shore does it again, whole"
    begin(yard, "61.0")
    with pytest.raises(Refused, match="no reason"):
        void(yard, 5, " ")
    with pytest.raises(Refused, match="nothing is to be seen"):
        void(yard, 5, "\u200b\u2060")
    void(yard, 5)
    with pytest.raises(Refused, match="void already"):
        void(yard, 5)


def test_a_voided_slip_hides_nothing_that_the_readings_after_it_found(yard: Yard) -> None:
    begin(yard, "61.0")
    void(yard, 1)
    press(yard, "95.6", "95.6")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert outcomes(yard) == ["fail"]


def test_the_report_shows_a_void_beside_its_check_with_the_reason(tmp_path: Path) -> None:
    yard = small(tmp_path)
    begin(yard, "93.2", "61.0")
    first = yard.readings()[-2]["reading_id"]
    assert isinstance(first, int)
    void(yard, first + 1)
    press(yard, "93.2", "93.2", "0.0", "0.0")
    found = page(yard, "small", tmp_path)
    yard.close()
    (check,) = [row[0] for row in found.rows if row and row[0].startswith("Check 4, ")]
    assert "T1 at 20°: 93.2 (void), 61.0 (void), 93.2, 93.2 GU; Z0 at 20°: 0.0, 0.0 GU." in check
    assert f"A person took out reading {first + 1} (slipped off the tile)" in check
    assert "the 1 other of the piece went with it, and it was read anew in full." in check
