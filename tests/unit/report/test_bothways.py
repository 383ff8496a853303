"""A plan with a drift correction: both results on every page and file, and which one decides."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.cli.trial import plan_lines
from acquire.model import NoticeKind
from acquire.report import summary_lines
from acquire.report.rows.export import Scope, records
from acquire.settings import parse_plan
from acquire.store import StoreReader
from tests.unit.reported import SMALL, SMALL_VALUES, ManyAngles, page, plan_text, read_stage
from tests.yard import Yard

OFFSET = 'drift_correction = "offset"\n'
GAIN = 'drift_correction = "gain"\n'
AT_1 = "check 1, passed 2026-05-04 08:00:04"


def take(yard: Yard, stage: str, text: str) -> None:
    read_stage(yard, stage, text, [SMALL_VALUES[zone, stage] for zone in ("A1", "A2")])


def drifting(yard: Yard, how: str, *tiles: str) -> None:
    """Bare and cured, with checks before, between and after that read the tile as `tiles`."""
    for stage, tile in zip(("bare", "cured"), tiles, strict=False):
        yard.check("shore", tile=tile)
        take(yard, stage, SMALL + how)
    if len(tiles) > 2:
        yard.check("shore", tile=tiles[2])


def rows_of(yard: Yard) -> list[dict[str, object]]:
    with StoreReader(yard.bench.store) as store:
        return list(records(store, Scope("small")))


def test_both_results_stand_side_by_side_and_the_corrected_one_decides(
    yard: Yard, tmp_path: Path
) -> None:
    drifting(yard, OFFSET, "93.2", "93.6", "93.2")
    found = page(yard, "small", tmp_path)
    # By hand: check, zone A1 at 3, 5, 7 s and A2 at 9, 11, 13 s of 17 s, check; so the zones lie
    # 6/17 apart in a drift of +0.4 when bare and of -0.4 when cured, and as read the net change is
    # 3.2. Of the known shift of -0.8 * 6/17 it is freed.
    wanted = 3.2 + 0.8 * 6 / 17
    (row,) = (r for r in found.rows if r[:1] == ["Brine Shield"] and r[-1] == "the same")
    name, net, u, interval, decision, read, read_u, read_interval, read_decision, apart, _ = row
    assert (net, read, apart) == (f"+{wanted:.2f}", "+3.20", "+0.28")
    assert (decision, read_decision) == ("better", "better")
    assert float(u) < float(read_u)
    assert interval != read_interval
    decides = next(r for r in found.rows if r[:2] == ["Brine Shield", "▲ better"])
    assert decides[2:5] == [net, u, interval]
    text = found.text.replace("\u00a0", " ")
    assert (
        "At cured the readings corrected for the drift of the meter decide, as the plan says: by "
        "offset, in a straight line from the opening to the closing check around each reading."
    ) in text
    assert (
        f"Brine Shield, cured: corrected {net} ± {u} GU, as read +3.20 ± {read_u} GU; they lie "
        "0.28 GU apart, and the decision is the same both ways: better."
    ) in text
    assert "At cured, corrected for drift: Brine Shield is better than the control." in text
    assert "The reading r becomes r − (x − c)".lower() in text.lower()
    assert name == "Brine Shield"


def test_the_terminal_says_the_same_of_both(yard: Yard) -> None:
    drifting(yard, OFFSET, "93.2", "93.6", "93.2")
    lines = summary_lines(yard.bench.store, "small")
    assert any("  Brine Shield, cured: corrected +3.48 ± " in line for line in lines)
    assert any(line.startswith("  ▲ Brine Shield, cured, corrected for drift: ") for line in lines)


def test_it_is_said_in_words_when_the_correction_changes_the_decision(yard: Yard) -> None:
    values = {**SMALL_VALUES, ("A2", "cured"): ("82.1", "82.2", "82.3")}
    for stage, tile in (("bare", "92.6"), ("cured", "93.8")):
        yard.check("shore", tile=tile)
        read_stage(yard, stage, SMALL + OFFSET, [values[zone, stage] for zone in ("A1", "A2")])
    yard.check("shore", tile="92.6")
    (line,) = [
        line for line in summary_lines(yard.bench.store, "small") if "decision changes" in line
    ]
    # A known shift of 2.4 * 6/17 and the unknown course of the drift hide a net change of 1.3.
    assert "as read it is “no difference shown”, corrected “better”" in line


def test_budgets_stand_both_ways_and_shifts_are_only_in_those_as_read(
    yard: Yard, tmp_path: Path
) -> None:
    drifting(yard, OFFSET, "93.2", "93.6", "93.2")
    found = page(yard, "small", tmp_path)
    assert "Net changes against the control, corrected for drift" in found.text
    assert "Net changes against the control, as read" in found.text
    heads = [k for k, r in enumerate(found.rows) if r and r[0] == "scatter in zone A2, bare"]
    first, second = found.rows[heads[0] : heads[1]], found.rows[heads[1] :]
    assert not any(r and r[0].startswith("steady drift of the meter") for r in first)
    assert any(r and r[0] == "steady drift of the meter, bare" for r in second)
    assert any(r and r[0] == "reading of check 2, piece T1" for r in first)


def test_zones_have_their_mean_and_change_both_ways_with_the_checks_around_them(
    yard: Yard, tmp_path: Path
) -> None:
    drifting(yard, OFFSET, "93.2", "93.6", "93.2")
    rows = [r for r in page(yard, "small", tmp_path).rows if r[:1] == ["A1"] and len(r) == 13]
    bare, cured = rows
    # 5 s after the verdict on average, and the tile was read 2.5 s before it: at 7.5 s of 17 s.
    assert bare[3] == "80.20"
    assert bare[10].startswith(f"{80.2 - 0.4 * 7.5 / 17:.2f} ± ")
    assert cured[10].startswith(f"{80.0 - 0.4 * 9.5 / 17:.2f} ± ")
    assert cured[11].startswith(f"−{0.2 + 0.4 * 2 / 17:.2f} ± ")
    assert bare[12] == "checks 1 and 2, both passed"
    assert cured[12] == "checks 2 and 3, both passed"


def test_a_stage_that_no_check_closed_stays_as_read_and_says_why(
    yard: Yard, tmp_path: Path
) -> None:
    drifting(yard, OFFSET, "93.2", "93.6")
    said = (
        "The plan wants cured corrected for the drift of the meter by offset, and it is not: all 6 "
        "readings at cured that count have no passed closing check. Corrected and uncorrected "
        "readings are never mixed, so all figures of this stage are as read."
    )
    assert f"  {said}" in summary_lines(yard.bench.store, "small")
    found = page(yard, "small", tmp_path)
    assert said in found.text
    assert found.row("Brine Shield")[2] == "+3.20"
    assert "At cured: Brine Shield is better than the control." in found.text
    assert "With and without the drift correction" not in found.text
    exported = rows_of(yard)
    assert [r["corrected_value"] is None for r in exported] == [False] * 6 + [True] * 6
    assert {r["not_corrected"] for r in exported[6:]} == {
        "all 6 readings at cured that count have no passed closing check"
    }


def test_a_re_adjusted_meter_breaks_the_bracket_and_nothing_is_corrected_over_it(
    yard: Yard, tmp_path: Path
) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare", SMALL + OFFSET)
    yard.check("shore", tile="94.1")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore", tile="93.2")
    take(yard, "cured", SMALL + OFFSET)
    yard.check("shore", tile="93.4")
    found = page(yard, "small", tmp_path)
    assert "have no closing check before the meter was re-adjusted" in found.text
    broken = f"{AT_1}; not closed: re-adjusted before a check decided; between: check 2, undecided "
    told = next(r[-1] for r in found.rows if r[:1] == ["A1"] and len(r) == 13)
    assert told.startswith(broken)
    assert sum(r[-2:-1] == [told] for r in found.rows) == 6


def test_suspect_readings_stand_with_the_check_that_made_them_so(
    yard: Yard, tmp_path: Path
) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare", SMALL + OFFSET)
    yard.check("shore", tile="95.6")
    found = page(yard, "small", tmp_path)
    why = (
        f"{AT_1}; suspect, because the meter was outside its limit at check 2, failed 2026-05-04 "
        "08:00:21"
    )
    assert sum(why in r for r in found.rows) == 6
    first = rows_of(yard)[0]
    assert (first["check_outcome"], first["closing_check_outcome"]) == ("pass", "fail")
    assert (first["counts"], first["bracket"]) == (0, "suspect")
    assert first["not_corrected"] == "left out: suspect"


def test_an_export_has_both_values_of_each_reading_with_both_checks(yard: Yard) -> None:
    drifting(yard, OFFSET, "93.2", "93.6", "93.2")
    first = rows_of(yard)[0]
    assert first["value"] is not None
    assert str(first["value"]) == "80.1"
    # 3 s after the verdict, 5.5 s of 17 s after the tile was read: 0.4 * 5.5/17 too high.
    assert float(str(first["corrected_value"])) == pytest.approx(80.1 - 0.4 * 5.5 / 17, abs=1e-6)
    assert first["drift_correction"] == "offset"
    assert first["not_corrected"] is None
    assert (first["check_judged"], first["closing_check_judged"]) == (
        "2026-05-04T08:00:04.000Z",
        "2026-05-04T08:00:21.000Z",
    )


def test_without_a_correction_an_export_says_none_and_a_page_speaks_of_none(
    yard: Yard, tmp_path: Path
) -> None:
    drifting(yard, "", "93.2", "93.6", "93.2")
    row = rows_of(yard)[0]
    assert (row["drift_correction"], row["corrected_value"], row["not_corrected"]) == (
        "none",
        None,
        None,
    )
    text = page(yard, "small", tmp_path).text
    assert "corrected for drift" not in text
    assert "With and without" not in text


def test_a_gain_is_taken_from_a_piece_that_shows_one(yard: Yard, tmp_path: Path) -> None:
    # Readings of 12 GU lie nearest to the black trap, whose certified value of 0 shows no gain.
    dark = {k: tuple(f"{float(v) - 68:.1f}" for v in vs) for k, vs in SMALL_VALUES.items()}
    for stage, tile in (("bare", "93.2"), ("cured", "93.8")):
        yard.check("shore", tile=tile)
        read_stage(yard, stage, SMALL + GAIN, [dark[z, stage] for z in ("A1", "A2")])
    yard.check("shore", tile="93.2")
    row = rows_of(yard)[0]
    x = 93.2 + 0.6 * 5.5 / 17
    assert float(str(row["corrected_value"])) == pytest.approx(12.1 * 93.2 / x, abs=1e-6)
    assert "by gain: the reading r becomes r c / x" in page(yard, "small", tmp_path).text


def test_a_correction_chosen_with_readings_in_view_is_said_beside_the_decision(
    yard: Yard, tmp_path: Path
) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare", SMALL)
    yard.check("shore", tile="93.6")
    take(yard, "cured", SMALL + OFFSET)
    yard.check("shore", tile="93.2")
    said = (
        "The plan changed the drift correction of measure gloss20 from none to offset on 4 May "
        "2026, 08:00:22 UTC, when 6 readings of it had been taken already: it was not chosen "
        "before the readings."
    )
    assert f"  {said}" in summary_lines(yard.bench.store, "small")
    assert said in page(yard, "small", tmp_path).text


def test_a_correction_dropped_with_readings_in_view_is_said_too(yard: Yard) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare", SMALL + OFFSET)
    yard.check("shore", tile="93.6")
    take(yard, "cured", SMALL)
    yard.check("shore", tile="93.2")
    assert any(
        "from offset to none on" in line for line in summary_lines(yard.bench.store, "small")
    )


def test_the_person_at_the_bench_is_told_of_the_change_when_the_run_begins(yard: Yard) -> None:
    yard.check("shore")
    take(yard, "bare", SMALL)
    plan = parse_plan(SMALL + GAIN, "trial.toml")
    reply = yard.act(lambda at: yard.acts.runs.begin(plan, None, "cured", "shore", at))
    assert reply["plan_changes"] == ["measure gloss20 now has drift_correction = gain, not none"]


def test_the_plan_in_short_and_the_head_of_the_page_say_that_results_are_corrected(
    yard: Yard, tmp_path: Path
) -> None:
    (line,) = [text for text in plan_lines(parse_plan(SMALL + GAIN, "t")) if "corrected" in text]
    assert "corrected for drift by gain" in line
    assert not any("corrected" in text for text in plan_lines(parse_plan(SMALL, "t")))
    drifting(yard, GAIN, "93.2", "93.6", "93.2")
    assert (
        "(measure gloss20), as read and corrected for the drift of the meter by gain"
        in page(yard, "small", tmp_path).text
    )


def test_angles_are_corrected_each_by_its_own_checks(tmp_path: Path) -> None:
    yard = ManyAngles(tmp_path)
    names, zones = {"none": "Untreated", "x": "Slipway wax"}, {"A1": "none", "A2": "x"}
    text = plan_text(names, zones, stages=("bare", "cured"), replicates=2, channel="[20, 60]")
    yard.plug("shore")
    yard.check("shore", tile="93.2")
    for stage in ("bare", "cured"):
        yard.begin(stage, text=text + OFFSET)
        for value in ("80.0", "80.2", "81.0", "81.2"):
            for angle in ("20", "60"):
                yard.clock.advance(1)
                yard.press("shore", value, channel=angle)
        yard.act(lambda at: yard.acts.runs.finish("", at))
        yard.check("shore", tile="93.6")
    with StoreReader(yard.bench.store) as store:
        rows = list(records(store, Scope("gelcoat-1")))
    yard.close()
    assert {r["channel"] for r in rows if r["corrected_value"] is not None} == {"20", "60"}
    assert all(r["corrected_value"] is not None for r in rows)
