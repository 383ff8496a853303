"""The drawings: every reading once, by shape and in words, safe inside a page."""

from __future__ import annotations

import math
import re
from functools import partial
from pathlib import Path

import matplotlib as mpl
import pytest

from acquire.report.evidence.evidence import evidence_of
from acquire.report.plots.ink import Ink
from acquire.report.plots.scale import scale_over
from acquire.report.plots.sheet import Shape, Sheet
from acquire.report.plots.timeline import Timeline
from acquire.report.record.loading import load_trial
from acquire.report.sections.drawings import (
    changes_gallery,
    checks_gallery,
    readings_gallery,
)
from tests.unit.reported import full

USE = re.compile(r'<use href="#([^"]+)"([^>]*)/>')


def inked(ink: Ink) -> re.Pattern[str]:
    return re.compile(f'(?:fill|stroke)="{ink.on_paper}"')


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """The drawings of the full story by kind."""
    yard = full(tmp_path_factory.mktemp("drawn"))
    record = load_trial(yard.bench.store, "gelcoat-1")
    yard.close()
    (evidence,) = evidence_of(record)
    return {
        "readings": [d.svg for d in readings_gallery(record, evidence, "m0").drawings],
        "changes": [d.svg for d in changes_gallery(record, evidence, "m0").drawings],
        "checks": [d.svg for d in checks_gallery(record).drawings],
    }


def test_every_reading_is_one_mark_and_left_out_ones_have_their_own_shape(
    drawn: dict[str, list[str]],
) -> None:
    marks = [m for svg in drawn["readings"] for m in USE.findall(svg)]
    treated = [m for m in marks if inked(Ink.TREATED).search(m[1])]
    control = [m for m in marks if inked(Ink.CONTROL).search(m[1])]
    counting = treated + control
    left_out = [m for m in marks if inked(Ink.LEFT_OUT).search(m[1])]
    means = [m for m in marks if inked(Ink.TEXT).search(m[1])]
    assert len(counting) == 90
    assert len(means) == 18
    # Ten suspects, one void, one ring around a reading that stands out.
    assert len(left_out) == 12
    assert len({shape for shape, _ in left_out}) == 3
    assert not {shape for shape, _ in left_out} & {shape for shape, _ in counting}
    assert not {shape for shape, _ in treated} & {shape for shape, _ in control}


def test_zones_stages_and_left_out_readings_are_named_in_words(drawn: dict[str, list[str]]) -> None:
    bare, _, washed = drawn["readings"]
    assert ">A2 · Untreated<" in bare
    assert re.search(r">void \d+ \(71\.4\)<", bare)
    assert re.search(r">suspect \d+–\d+<", washed)
    assert ">Gloss at 20°, GU<" in bare


def test_a_decision_stands_beside_every_interval(drawn: dict[str, list[str]]) -> None:
    for svg in drawn["changes"]:
        words = re.findall(r">(better|worse|shown equal|no difference shown)<", svg)
        assert len(words) == 5
        assert len(USE.findall(svg)) == 5
        assert inked(Ink.BAND).search(svg)


def test_every_check_is_drawn_with_its_outcome_in_words(drawn: dict[str, list[str]]) -> None:
    tile, trap = drawn["checks"]
    assert re.findall(r">(passed|failed|undecided)<", tile) == [
        "passed", "passed", "passed", "passed", "failed", "passed", "undecided", "passed",
    ]  # fmt: skip
    assert len({shape for shape, _ in USE.findall(tile)}) == 3
    assert len({shape for shape, _ in USE.findall(trap)}) == 1


def test_a_drawing_has_no_head_no_address_and_no_colour_of_its_own(
    drawn: dict[str, list[str]],
) -> None:
    for svg in (s for kind in drawn.values() for s in kind):
        assert svg.startswith("<svg viewBox=")
        assert svg.endswith("</svg>")
        assert not re.search(r"http|xmlns|<metadata|<style|font-family|tx\d+tx", svg)
        assert not [ink for ink in Ink if ink.value in svg]
        assert not re.search(r"style=\"[^\"]*#", svg)
        shown = set(re.findall(r'(?:fill|stroke)="(#\w+)"', svg))
        assert shown <= {ink.on_paper for ink in Ink}
        # A program that knows no variables prints them in their roles all the same.
        assert "var(" not in svg


def test_a_sheet_leaves_no_setting_changed_and_draws_the_same_again() -> None:
    before = dict(mpl.rcParams)

    def draw() -> str:
        sheet = Sheet("one", 40, scale_over([1.0, 2.0]))
        sheet.text(10, 10, "a < b & $c$ tx0tx")
        sheet.marks([(1.5, 20)], Shape.DIAMOND, Ink.TEXT)
        sheet.axis("GU")
        return sheet.svg("what & why tx0tx")

    assert draw() == draw()
    assert dict(mpl.rcParams) == before
    assert ">a &lt; b &amp; $c$ tx0tx<" in draw()
    assert 'aria-label="what &amp; why tx0tx"' in draw()


def test_two_sheets_in_one_page_share_no_id() -> None:
    def ids(name: str) -> set[str]:
        sheet = Sheet(name, 40, scale_over([0.0, 1.0]))
        sheet.marks([(0.5, 20)], Shape.DOT, Ink.TREATED)
        svg = sheet.svg("t")
        found = set(re.findall(r'\bid="([^"]+)"', svg))
        assert found == set(re.findall(r'href="#([^"]+)"', svg))
        return found

    assert ids("a")
    assert not ids("a") & ids("b")


@pytest.mark.parametrize(
    "values",
    [
        [],
        [82.4],
        [0.0, 0.0],
        [-0.3, 0.3],
        [1e-9, 2e-9],
        [1e12, 1e12 + 1],
        [-5e99, 5e99],
        [math.nan, math.inf, 3.0],
    ],
)
def test_a_scale_holds_its_values_and_has_ticks_that_differ(values: list[float]) -> None:
    scale = scale_over(values)
    assert scale.low < scale.high
    assert all(scale.holds(v) for v in values if math.isfinite(v))
    assert 2 <= len(scale.ticks) <= 11
    assert all(scale.holds(t) for t in scale.ticks)
    if max((abs(t) for t in scale.ticks), default=0) < 1e7:
        assert len(set(scale.labels)) == len(scale.labels)


def test_ticks_are_round_figures() -> None:
    assert scale_over([80.1, 84.9]).labels == ("80", "81", "82", "83", "84", "85")
    assert scale_over([-0.35, 0.3]).labels == ("−0.2", "0.0", "0.2")


def test_the_drawings_of_a_store_do_not_depend_on_the_folder(tmp_path: Path) -> None:
    pages = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        yard = full(tmp_path / name)
        record = load_trial(yard.bench.store, "gelcoat-1")
        yard.close()
        pages.append([d.svg for d in checks_gallery(record).drawings])
    assert pages[0] == pages[1]


def test_a_long_remark_stands_whole_below_the_name(tmp_path: Path) -> None:
    yard = full(tmp_path)
    ids = [row["reading_id"] for row in yard.readings("zone = 'A1' AND stage = 'wash-5'")]
    for number in ids[::2]:
        assert isinstance(number, int)
        yard.act(partial(yard.acts.readings.void, number, "the boat moved"))
    record = load_trial(yard.bench.store, "gelcoat-1")
    yard.close()
    (evidence,) = evidence_of(record)
    washed = readings_gallery(record, evidence, "m0").drawings[2].svg
    shown = " ".join(re.findall(r">((?:void|suspect|[\d, –]+)[^<]*)<", washed))
    assert "…" not in shown
    left_out = [r.id for r in record.readings if r.zone == "A1" and r.stage == "wash-5"]
    assert len(left_out) == 10
    for number in ids[::2]:
        assert re.search(rf"\b{number}\b", shown)
    (height,) = {float(h) for h in re.findall(r'viewBox="0 0 \d+ (\d+)"', washed)}
    assert height > 54 * 6 + 42


def test_no_line_across_goes_through_a_word_at_the_head_of_a_drawing() -> None:
    for limit, lower in ((1.0, 0.6), (0.9, 0.85)):
        plot = Timeline(0.0, 10.0, (-limit, limit))
        for level in (limit, lower, -lower, -limit):
            plot.level(level, Ink.TEXT)
        plot.upright(4.0, "re-adjusted")
        plot.remark("TOO LATE")
        words = re.findall(r'y="([0-9.]+)"[^>]*>(re-adjusted|TOO LATE)<', plot.svg("x"))
        assert [word for _, word in words] == ["re-adjusted", "TOO LATE"]
        for y in (float(y) for y, _ in words):
            lines = [plot.y(level) for level in (limit, lower, -lower, -limit)]
            assert not [line for line in lines if y - 9 < line < y + 3]
            assert y < 80
