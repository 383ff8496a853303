"""Wash life on the page, in the terminal and as rows: curves, lives, and who outlived whom."""

from __future__ import annotations

import json
import random
import re
from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from acquire.analysis.durability.retention import Kept
from acquire.analysis.durability.trend import trend
from acquire.report.plots.retention import retention_heights, retention_plot
from acquire.report.rows.export import Scope, write_export
from acquire.report.rows.resultrows import COLUMNS, write_rows
from acquire.report.terminal.summary import lines_of
from acquire.report.washing import washlife
from acquire.report.washing.washrules import wash_rules
from acquire.store import StoreReader
from tests.unit.reported import page, plan_text, read_stage
from tests.unit.wash_bench import HALF, only, readings_of, washed
from tests.yard import Yard

STAGES = ("bare", "applied", "wash-5", "wash-10", "wash-20", "wash-40")
_COUNTS = "[trial.washes]\n" + "\n".join(f"{s} = {s[5:]}" for s in STAGES[2:])
_HALF = "\n[measure.end_of_life]\nlost = 0.5\n"
_NAMES = {"none": "Untreated", "tern": "Tern wax", "knot": "Knot sealant", "ruff": "Ruff oil"}
_ONE_EACH = {"A1": "none", "A2": "tern", "A3": "knot", "A4": "ruff"}
_GAINS = {
    "none": (0.0, 0.0, -0.1, -0.2, -0.3, -0.5),
    "tern": (0.0, 8.0, 4.95, 3.0, 0.95, -0.3),  # half gone after 7.5 washes
    "knot": (0.0, 8.0, 7.8, 7.6, 7.2, 6.6),
    "ruff": (0.0, -0.1, -0.1, -0.2, -0.3, -0.4),
}


def _yard(
    folder: Path,
    zones: dict[str, str],
    end: str = _HALF,
    counts: str = _COUNTS,
    replicates: int = 5,
    read: int = len(STAGES),
) -> Yard:
    """So many stages read under their own passed checks; readings scatter by about 0.15 GU."""
    draw = random.Random(3)
    names = {key: name for key, name in _NAMES.items() if key in zones.values()}
    text = plan_text(names, zones, stages=STAGES, head=counts, replicates=replicates) + end
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore", tile="93.2")
    for k, stage in enumerate(STAGES[:read]):
        values = [
            [f"{80.0 + _GAINS[zones[z]][k] + draw.gauss(0, 0.15):.1f}" for _ in range(replicates)]
            for z in zones
        ]
        read_stage(yard, stage, text, values)
        yard.check("shore", tile="93.2")
    return yard


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Yard:
    return _yard(tmp_path_factory.mktemp("one"), _ONE_EACH)


def test_the_page_tells_how_long_each_lasted_and_how_sure_that_is(
    yard: Yard, tmp_path: Path
) -> None:
    found = page(yard, "gelcoat-1", tmp_path)
    assert "Wash life" in found.text
    assert "Knot sealant lasted at least 40 washes." in found.text
    assert "Tern wax lasted 5 to 10 washes." in found.text
    assert "Knot sealant outlived Tern wax" in found.text
    assert "no gain was shown before the first wash, so there is none to lose" in found.text
    assert "half of its gain is lost" in found.text
    assert "Intervals are held at 98.3 % each, so that those of all 3 treatments" in found.text
    tern = found.row("A2", "Tern wax", "passed", "passed", "failed")
    assert tern[-2] == "lasted 5 to 10 washes"
    assert re.fullmatch(r"[78]\.\d+ \(\d\.\d+ to \d\.\d+\)", tern[-1])
    (knot,) = [r for r in found.rows if r[:2] == ["A3", "Knot sealant"] and len(r) == 9]
    assert knot[-1] == "–"
    (ruff,) = [r for r in found.rows if r[:2] == ["A4", "Ruff oil"] and len(r) == 9]
    assert ruff[2:7] == ["–"] * 5
    assert "What is kept after washing" in found.text
    assert "Tern wax, wash-10, " in found.text
    assert "gain less this share of the first gain: 0 ± " in found.text.replace("\u00a0", " ")


def test_no_number_is_told_for_a_life_that_has_not_ended(yard: Yard, tmp_path: Path) -> None:
    found = page(yard, "gelcoat-1", tmp_path).text
    item = found[found.index("Knot sealant: it lasted") : found.index("Ruff oil: no life")]
    assert "at least 40 washes" in item
    assert "By a straight line between the counts" not in item
    assert "By a straight line between the counts half of its gain is lost at " in found
    # An exponential course crosses outside the line's limits in 13 of 100: no level is claimed.
    assert "washes (the readings leave that line " in found
    assert "outside of it in 13 of 100 drawn lives" in found


def test_curves_half_life_and_trend_are_told_where_the_counts_resolve_them(
    yard: Yard, tmp_path: Path
) -> None:
    found = page(yard, "gelcoat-1", tmp_path).text
    wanted = "Half of the gain is gone after 7.59 washes, 95 % interval for this zone 6.91 to 8.35"
    assert wanted in found
    assert "it holds for the zones that were read and not for others" in found
    assert "Over the counts: it falls with the washes (p = 0.010, one-sided)." in found
    assert "Half-life not resolved: washing stopped at 40, before half was gone" in found


def test_the_curves_are_drawn_on_one_scale_with_the_criterion(yard: Yard, tmp_path: Path) -> None:
    found = page(yard, "gelcoat-1", tmp_path)
    drawings = [
        a["aria-label"]
        for tag, a in found.tags
        if tag == "svg" and "kept over the washes" in (a.get("aria-label") or "")
    ]
    assert [d and d.split(":")[0] for d in drawings] == ["Tern wax", "Knot sealant"]
    assert "Dashed line: below it a treatment counts as gone." in found.text


def test_the_terminal_says_the_same(yard: Yard) -> None:
    lines = lines_of(yard.bench.store, "gelcoat-1")
    start = next(k for k, x in enumerate(lines) if x.startswith("Wash life by gloss at 20°"))
    said = "\n".join(lines[start:])
    for sentence in (
        "Knot sealant lasted at least 40 washes.",
        "Tern wax: it lasted 5 to 10 washes.",
        "Knot sealant outlived Tern wax",
        "A treatment counts as gone on a zone when half of its gain is lost.",
    ):
        assert sentence in said


def test_rows_have_shares_lives_and_pairs(yard: Yard) -> None:
    out = StringIO()
    write_rows(yard.bench.store, "gelcoat-1", "jsonl", out)
    rows = [json.loads(line) for line in out.getvalue().splitlines()]
    assert all(list(row) == [c.name for c in COLUMNS] for row in rows)
    kept = [r for r in rows if r["result"] == "kept" and r["treatment"] == "tern"]
    assert [r["washes"] for r in kept] == [5, 10, 20, 40]
    assert all(r["low"] < r["share_kept"] < r["high"] for r in kept)
    (knot,) = [r for r in rows if r["result"] == "life" and r["treatment"] == "knot"]
    assert (knot["decision"], knot["life_low"], knot["life_high"]) == ("at least", 40, None)
    assert (knot["crossing"], knot["crossing_low"], knot["crossing_high"]) == (None, None, None)
    (tern,) = [r for r in rows if r["result"] == "life" and r["treatment"] == "tern"]
    assert 5 < tern["crossing_low"] < tern["crossing"] < tern["crossing_high"] < 10
    # Gains less the control's are 8, 5.05 and 3.2: the line meets 4 at 5 + 5 (5.05 - 4) / 1.85.
    assert tern["crossing"] == pytest.approx(7.84, abs=0.3)
    (ruff,) = [r for r in rows if r["result"] == "life" and r["treatment"] == "ruff"]
    assert ruff["decision"] == "no decision"
    assert ruff["reason"].startswith("no gain was shown")
    (pair,) = [r for r in rows if r["result"] == "outlived"]
    assert (pair["treatment"], pair["decision"], pair["against"]) == ("tern", "outlived by", "knot")


def test_the_export_of_readings_has_the_count_of_their_stage(yard: Yard) -> None:
    out = StringIO()
    with StoreReader(yard.bench.store) as store:
        write_export(store, Scope("gelcoat-1"), "jsonl", out)
    rows = [json.loads(line) for line in out.getvalue().splitlines()]
    assert {(r["stage"], r["washes"]) for r in rows} == {
        ("bare", None), ("applied", None), ("wash-5", 5), ("wash-10", 10), ("wash-20", 20),
        ("wash-40", 40),
    }  # fmt: skip


def test_single_readings_leave_everything_untold_for_a_reason(tmp_path: Path) -> None:
    found = page(_yard(tmp_path, _ONE_EACH, replicates=1), "gelcoat-1", tmp_path).text
    assert "Tern wax, Knot sealant and Ruff oil have no life to tell" in found
    assert "no life is told, because there is only one reading of zone A2 at bare" in found


def test_several_zones_are_told_together_and_compared_by_their_lives(tmp_path: Path) -> None:
    zones = {f"{row}{k}": t for row, t in zip("ABC", ("none", "tern", "knot"), strict=True)
             for k in (1, 2, 3, 4)}  # fmt: skip
    found = page(_yard(tmp_path, zones), "gelcoat-1", tmp_path).text
    assert "on the middle one of its 4 zones" in found
    assert "95 % interval for zones treated so " in found
    assert "lasted at least 40 washes on all of its 4 zones" in found
    assert "4 of 4 zones surely passed" in found
    said = re.search(
        r"By straight lines between the counts half of its gain is lost (.*); in brackets what the "
        r"readings leave of that line",
        found,
    )
    assert said is not None
    each = r"at [78]\.\d+ washes on B{} \(\d\.\d+ to \d\.\d+\)"
    one, two, three, four = (each.format(k) for k in (1, 2, 3, 4))
    assert re.fullmatch(f"{one}, {two}, {three} and {four}", said[1])
    # Beside the life, and of no treatment whose life has not ended.
    assert found.count("By straight lines between the counts") == 1
    assert "Knot sealant outlived Tern wax (p = 0.029, 4 specimens of Tern wax, 4 of Knot" in found


def test_nothing_is_said_of_washes_that_are_planned_and_not_yet_read(tmp_path: Path) -> None:
    zones = {f"{row}{k}": t for row, t in zip("AB", ("none", "tern"), strict=True)
             for k in (1, 2, 3)}  # fmt: skip
    found = page(_yard(tmp_path, zones, read=4), "gelcoat-1", tmp_path).text
    assert "After 10 washes 0 of 3 zones surely passed and 3 surely failed" in found
    assert not re.search(r"[Aa]fter (20|40) washes \d", found)


def test_without_a_criterion_the_curve_goes_as_far_as_was_read(tmp_path: Path) -> None:
    found = page(_yard(tmp_path, _ONE_EACH, end="", read=4), "gelcoat-1", tmp_path).text
    assert "What is kept of each gain after washing, up to 10 washes." in found


def test_without_a_criterion_the_curve_is_told_and_no_life(tmp_path: Path) -> None:
    found = page(_yard(tmp_path, _ONE_EACH, end=""), "gelcoat-1", tmp_path)
    assert "The plan names no end of life, so no life is told." in found.text
    assert "Lives of zones" not in found.text
    assert "Of its gain it kept" in found.text


def test_without_counts_the_page_has_no_wash_life(tmp_path: Path) -> None:
    found = page(_yard(tmp_path, _ONE_EACH, end="", counts=""), "gelcoat-1", tmp_path)
    assert "Wash life" not in found.text


def test_an_interval_beyond_the_scale_is_cut_off_and_has_an_arrow_there() -> None:
    kept = [Kept(5, 0.8, 0.1, 0.6, 1.0), Kept(10, 0.2, 0.9, -3.0, 4.0)]
    heights = retention_heights([kept])
    assert (min(heights), max(heights)) == (-50.0, 150.0)
    drawn = retention_plot(kept, heights, 0.5, "<b>")
    assert drawn.count("h8") == 2
    assert len(re.findall(r"l4 -6l4 6", drawn)) == 1  # its head upwards
    assert len(re.findall(r"l4 6l4 -6", drawn)) == 1
    assert "&lt;b&gt;" in drawn
    assert "10 washes" in drawn


def test_a_zone_without_a_life_is_counted_where_the_others_are_told_together() -> None:
    levels = {"control": (80.0,) * 5, "wax": (80.0, 84.0, 83.9, 83.8, 83.8)}
    found = washed(readings_of(levels))
    assert found is not None
    (wax,) = found.treatments
    (zone,) = wax.zones
    bare = replace(zone, zone="B4", life=None, lacking="no gain was shown")
    two = replace(found, treatments=(replace(wax, zones=(zone, bare)),))
    (lead,) = washlife._lead(two, HALF, {})
    assert lead == (
        f"{wax.shown} lasted at least 20 washes on its one zone with a life to tell, of 2."
    )
    assert "of 2" not in " ".join(washlife._lead(found, HALF, {}))


def test_lives_of_zones_say_that_only_their_readings_scatter_is_in_them() -> None:
    levels = {"control": (80.0,) * 5, "wax": (80.0, 84.0, 83.0, 82.0, 81.0)}
    found = washed(readings_of(levels))
    assert found is not None
    said = " ".join(wash_rules(found, HALF))
    assert "judged by the scatter of its own readings" in said
    assert "by 8 % about 25" in said
    assert "judged by the scatter of its own readings" not in " ".join(wash_rules(found, None))


def test_a_zone_that_reads_otherwise_from_stage_to_stage_has_a_false_life_as_often_as_is_said() -> (
    None
):
    """Half of the gain gone after 3 to 30 washes, each level off by 8 % of the first gain."""
    draw = np.random.default_rng(2)
    told = false = 0
    for _ in range(80):
        half = float(draw.uniform(3, 30))
        gain = [0.0, *(3.0 * 0.5 ** (washes / half) for washes in (0, 5, 10, 20))]
        off = draw.normal(0, 0.08 * 3.0, (2, 5))
        levels = {
            who: [80 + own * gain[k] - 0.1 * k + off[int(own)][k] for k in range(5)]
            for who, own in (("control", 0.0), ("wax", 1.0))
        }
        for zone in only(washed(readings_of(levels, source=draw))).zones:
            if zone.life is not None:
                told += 1
                false += not zone.life.low <= half <= zone.life.high
    assert told >= 60
    assert 0.1 <= false / told <= 0.4  # about 25 of 100, with three standard errors


def test_what_one_zone_is_said_to_keep_misses_as_often_as_is_said() -> None:
    """Half of the gain gone after 3 to 30 washes, each level off by 5 % of the first gain."""
    draw = np.random.default_rng(9)
    told = missed = 0
    for _ in range(40):
        half = float(draw.uniform(3, 30))
        gain = [0.0, *(3.0 * 0.5 ** (washes / half) for washes in (0, 5, 10, 20))]
        off = draw.normal(0, 0.05 * 3.0, (2, 5))
        levels = {
            who: [80 + own * gain[k] + off[int(own)][k] for k in range(5)]
            for who, own in (("control", 0.0), ("wax", 1.0))
        }
        found = washed(readings_of(levels, source=draw))
        for look, kept in only(found).wear.kept:
            if look.washes and kept.low is not None and kept.high is not None:
                told += 1
                missed += not kept.low <= 0.5 ** (look.washes / half) <= kept.high
    assert told >= 100
    assert 0.4 <= missed / told <= 0.8  # about 60 of 100
    assert found is not None
    assert "by 5 % about 60" in " ".join(wash_rules(found, None))


def test_of_several_zones_on_both_sides_nothing_is_said_of_one() -> None:
    course = (80.0, 84.0, 83.0, 82.0, 81.0)
    levels = {f"{who}{n}": [v + 0.1 * n for v in row] for n in (1, 2, 3)
              for who, row in (("control", (80.0,) * 5), ("wax", course))}  # fmt: skip
    found = washed(readings_of(levels, source=np.random.default_rng(3)))
    assert found is not None
    assert "With one zone of treatment or control what is kept" not in " ".join(
        wash_rules(found, HALF)
    )


@pytest.mark.parametrize("missing", [0, 1])
def test_zones_that_were_not_read_before_or_at_the_start_of_washing_count_for_no_share(
    missing: int,
) -> None:
    """Of three zones one has all stages, so that the share stands on it alone, and it is said."""
    course = (80.0, 84.0, 83.0, 82.0, 81.0)
    whole: dict[str, list[float | None]] = {
        f"{who}{n}": [v + 0.1 * n for v in row] for n in (1, 2, 3)
        for who, row in (("control", (80.0,) * 5), ("wax", course))
    }  # fmt: skip
    for who in ("wax", "control"):
        lacking = {z: list(row) for z, row in whole.items()}
        for n in (2, 3):
            lacking[f"{who}{n}"][missing] = None
        for levels, is_said in ((whole, False), (lacking, True)):
            found = washed(readings_of(levels, source=np.random.default_rng(3)), end=None)
            assert found is not None
            assert only(found).wear.kept[0][1].low is not None
            assert ("What is said of one zone" in " ".join(wash_rules(found, None))) is is_said


def test_a_gain_that_wanders_shows_a_fall_as_often_as_is_said() -> None:
    found = washed(readings_of({"control": (80.0,) * 5, "wax": (80.0, 84.0, 83.0, 82.0, 81.0)}))
    assert found is not None
    assert "9 of 100 of five counts and in 15 of eight" in " ".join(wash_rules(found, HALF))
    draw = np.random.default_rng(95)
    for counts, least, most in ((5, 0.06, 0.13), (8, 0.11, 0.19)):
        gains = draw.normal(size=(800, counts)) + np.cumsum(draw.normal(size=(800, counts)), axis=1)
        shown = sum(trend([(range(counts), g.tolist())]).is_fall_shown for g in gains)
        assert least <= shown / 800 <= most


def test_shares_of_a_gain_that_is_hardly_shown_are_said_to_miss_oftener() -> None:
    for gain, is_said in ((0.2, True), (4.0, False)):
        course = (80.0, 80 + gain, 80 + gain, 80 + gain, 80 + gain)
        found = washed(readings_of({"control": (80.0,) * 5, "wax": course}))
        assert found is not None
        wear = only(found).wear
        assert wear.is_kept
        said = " ".join(wash_rules(found, HALF))
        assert ("of gains so small that 20 in 100 drawn trials showed them" in said) is is_said


def test_shares_of_gains_that_are_hardly_shown_miss_as_often_as_is_said() -> None:
    """Gains of a scatter and a half, gone within a few washes, that 2 of 10 trials show."""
    draw = np.random.default_rng(12)
    told = missed = 0
    for _ in range(150):
        gain = [0.0, *(0.11 * 0.5 ** (count / 1.5) for count in (0, 5, 10, 20))]
        levels = {
            who: [80 + own * gain[k] for k in range(5)]
            for who, own in (("control", 0.0), ("wax", 1.0))
        }
        for look, kept in only(washed(readings_of(levels, source=draw))).wear.kept:
            if kept.low is not None and kept.high is not None:
                told += 1
                missed += not kept.low <= 0.5 ** (look.washes / 1.5) <= kept.high
    assert told >= 60
    assert missed / told <= 0.17  # up to 9 of 100, and what so few trials leave
