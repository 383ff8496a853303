"""Films on the page and in the terminal: against a box of blanks, in the dark, in all bands."""

from __future__ import annotations

import re
from array import array
from decimal import Decimal
from pathlib import Path

import numpy as np

from acquire.model import EvenGrid, Quantity, Reading, Spectrum, SpectrumType
from acquire.report import summary_lines
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.sections.bands import film_bands
from acquire.report.terminal.resultlines import told as tables_of
from acquire.settings import parse_plan
from tests.unit.report.test_quantities import THREE, ThreeMeters
from tests.unit.reported import Page, page

BOX = (
    THREE.replace('order = "by-zone"\n"""', "")
    .replace(
        '[[zone]]\nid = "A2"',
        '[[zone]]\nid = "A4"\ntreatment = "none"\n\n[[zone]]\nid = "A5"\ntreatment = "none"\n\n'
        '[[zone]]\nid = "A2"',
    )
    .replace('band = "315-400"\n', 'band = "315-400"\nstages = ["cured"]\nmargin = 2\n')
    .replace('title = "Three quantities"', 'title = "Slides of one box"')
)
X = 300.0 + 2.0 * np.arange(101)
LEVELS = {"A1": 90.0, "A4": 90.6, "A5": 89.6, "A2": 55.8, "A3": 90.1}
NAME = "UVA 315-400 nm, as the meter weights it"


class Slides(ThreeMeters):
    """A yard whose head reads slides, as values of a band meter or with their spectra."""

    def slides(
        self, text: str, stage: str, levels: dict[str, float], *, with_spectra: bool = False
    ) -> None:
        plan = parse_plan(text, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, "light", stage, "head", at))
        for zone in plan.zones:
            for off in (-0.1, 0.0, 0.1):
                self.clock.advance(2)
                value = f"{levels[zone.id] + off:.1f}"
                raw, start, now = b"9" * 30, self._offsets.get("head", 0), self.clock.now()
                facts: list[Spectrum | Reading] = []
                if with_spectra:
                    flat = array("d", [float(value)] * X.size).tobytes()
                    facts.append(
                        Spectrum(
                            Quantity.TRANSMITTANCE, "percent", flat, SpectrumType.BINARY64,
                            EvenGrid(300.0, 2.0), now, raw, start, start + len(raw),
                        )
                    )  # fmt: skip
                facts.append(
                    Reading(
                        Quantity.TRANSMITTANCE, "315-400", Decimal(value), "percent", value, now,
                        raw, start, start + len(raw),
                    )
                )  # fmt: skip
                self.take_in("head", *facts)
        self.act(lambda at: self.acts.runs.finish("", at))


def told(folder: Path, text: str, stages: dict[str, dict[str, float]], **more: bool) -> tuple[
    Page, list[str], Path
]:  # fmt: skip
    yard = Slides(folder)
    yard.plug("head")
    for stage, levels in stages.items():
        yard.slides(text, stage, levels, **more)
    found = page(yard, "three", folder)
    lines = summary_lines(yard.bench.store, "three")
    store = yard.bench.store
    yard.close()
    return found, lines, store


def test_without_a_bare_stage_the_controls_slides_are_the_blanks(tmp_path: Path) -> None:
    """Film of A2: 55.8 over the geometric mean of 90.0, 90.6 and 89.6."""
    found, lines, store = told(tmp_path, BOX, {"cured": LEVELS})
    ratio = 100 * 55.8 / (90.0 * 90.6 * 89.6) ** (1 / 3)
    (wax,) = [line for line in lines if "Slipway wax, cured" in line]
    assert "better than the control" not in wax
    assert "worse than the control" in wax
    assert f"the film lets {ratio:.1f}" in wax
    (oil,) = [line for line in lines if "Jetty oil, cured" in line]
    assert "shown equal to the control within ±2 % of the blank's light" in oil
    against, *_ = (t for t in tables_of(store, "three").tables if "against the control" in t.title)
    (equal,) = (row[1] for row in against.rows if row[0] == "Jetty oil")
    assert re.fullmatch(r"= shown equal within ±2 % \(90 %: [0-9.]+ to [0-9.]+\)", equal)
    # The page's table has the same words.
    (cell,) = (r[1] for r in found.rows if r[:1] == ["Jetty oil"] and "shown equal" in r[1])
    assert cell.startswith("= shown equal within ±2 % by its 90 % interval, ")
    rows = [r for r in found.rows if r[:1] == ["Slipway wax"] and r[1:2] == ["▼ worse"]]
    assert rows[0][9].startswith("55.8")
    assert rows[0][10].startswith("90.")
    assert "the mean of the coated slides over the mean of the blanks" in found.text
    assert "spread of the blanks" in found.text
    assert "mean of ln(T in %) of its slides − that of the blanks" in found.text
    # At a glance and in the answer, each with the margin of the plan.
    assert found.text.count("shown equal to the control within ±2 %") >= 2
    # Slides are held against blanks: there is no bare stage.
    assert "from  to the stage" not in found.text


def test_one_blank_is_told_on_the_page_with_its_next_step(tmp_path: Path) -> None:
    text = THREE.replace('band = "315-400"\n', 'band = "315-400"\nstages = ["cured"]\n')
    _, lines, _ = told(tmp_path, text, {"cured": LEVELS})
    assert any("one blank does not show by how much blanks differ" in line for line in lines)
    assert any("at least two blanks of the same box" in line for line in lines)


def test_a_slide_that_lets_nothing_through_has_an_upper_limit_on_the_page(tmp_path: Path) -> None:
    dark = LEVELS | {"A2": 0.0}
    found, lines, _ = told(tmp_path, THREE, {"bare": dict.fromkeys(LEVELS, 90.0), "cured": dark})
    (wax,) = [line for line in lines if "Slipway wax, cured" in line]
    assert "no decision, because no light came through A2" in wax
    assert "at most" in wax
    assert "Jetty oil" in "".join(lines)
    assert "nan" not in found.text.lower().split()


def test_the_bands_of_a_box_are_the_films_over_its_blanks(tmp_path: Path) -> None:
    _, _, store = told(tmp_path, BOX, {"cured": LEVELS}, with_spectra=True)
    record = load_trial(store, "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    (table,) = film_bands(record, light).tables
    at = table.names.index("Slipway wax")
    for row in table.rows:
        value = float(row.films[at].split(" ± ")[0])
        assert abs(value - 100 * 55.8 / (270.2 / 3)) < 0.06
