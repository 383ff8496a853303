"""A transmission head is held against dark and open beam; a filter in between tells of its bend."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from acquire.analysis.checks.bracket import Bracket, reading_doubt
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult
from acquire.model import Certificate, Piece, PieceKind, PieceRule, Quantity, Reading
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from acquire.settings import parse_plan
from tests.unit.film_bench import films_of
from tests.yard import Yard, bench

BAND = "315-400"
PIECES = {
    "OPEN": (PieceKind.OPEN_BEAM, "100", "0.02"),
    "DARK": (PieceKind.DARK, "0", "0.01"),
    "N50": (PieceKind.NEUTRAL_FILTER, "50.0", "0.3"),
    "N80": (PieceKind.NEUTRAL_FILTER, "80.0", "0.3"),
}
BOTH_ENDS = ("OPEN", "DARK", "N50")
BEND = 0.6
"""Percent at the middle of the scale; all pieces pass."""
TRIAL = f"""
[trial]
id = "films"
title = "Films on glass"
stages = ["bare", "applied"]

[panel]
name = "Slides"

[[treatment]]
id = "none"
name = "Untreated"
control = true

[[treatment]]
id = "tern"
name = "Tern film"

[[zone]]
id = "C1"
treatment = "none"

[[zone]]
id = "C2"
treatment = "none"

[[zone]]
id = "T1"
treatment = "tern"

[[zone]]
id = "T2"
treatment = "tern"

[[measure]]
id = "uv"
quantity = "transmittance"
band = "{BAND}"
replicates = 3
order = "by-zone"
higher_is_better = false
"""
TRUE = {"C1": 91.0, "C2": 91.2, "T1": 91.1, "T2": 90.9}
FILM = 0.2
"""What the film lets through, so that the slides' mean lies nearer to the filter than the beam."""


class HeadYard(Yard):
    def __init__(
        self, folder: Path, pieces: Sequence[str] = BOTH_ENDS, dark: float = 0.0, digits: int = 2
    ) -> None:
        self._pieces = {name: PIECES[name] for name in pieces}
        self._dark, self._digits = dark, digits
        super().__init__(folder)
        self.plug("uv")

    def open(self) -> None:
        plain = bench(self.bench.store)
        first = plain.instruments[0]
        policy = replace(
            first.policy, id="uv", quantity=Quantity.TRANSMITTANCE, channels=(BAND,),
            unit="percent", resolution=Decimal("0.01"), valid_for_s=1e6,
            rules=tuple(PieceRule(n, 3, Decimal("1.5"), Decimal("0.5")) for n in self._pieces),
        )  # fmt: skip
        head = replace(first, id="uv", kind=Quantity.TRANSMITTANCE, serial="UV-1", policy=policy)
        pieces = tuple(
            Piece(name, kind, (_certificate(name, value, expanded),))
            for name, (kind, value, expanded) in self._pieces.items()
        )
        self.bench = replace(plain, instruments=(head,), pieces=pieces)
        super().open()

    def begun(self, stage: str, text: str) -> None:
        plan = parse_plan(text, "films.toml")
        self.act(lambda at: self.acts.runs.begin(plan, "uv", stage, "uv", at))

    def shown(self, true: float) -> None:
        """By a head right at both ends and bent between, or one that shows light in the dark."""
        part = true / 100
        off = self._dark * (1 - part) if self._dark else 4 * BEND * part * (1 - part)
        value = f"{true + off:.{self._digits}f}"
        raw = f"{value}\r\n".encode()
        at = self._offsets.get("uv", 0)
        now = self.clock.now()
        self.take_in(
            "uv",
            Reading(Quantity.TRANSMITTANCE, BAND, Decimal(value), "percent", value, now, raw, at,
                    at + len(raw)),
        )  # fmt: skip

    def checked(self) -> None:
        self.act(lambda at: self.acts.checks.begin("uv", at))
        for _, value, _ in self._pieces.values():
            for _ in range(3):
                self.clock.advance(1)
                self.shown(float(value))
        self.clock.advance(1)


def _certificate(name: str, value: str, expanded: str) -> Certificate:
    return Certificate(
        name, Quantity.TRANSMITTANCE, BAND, Decimal(value), "percent", Decimal(expanded),
        Decimal(2), date(2026, 1, 31), date(2030, 1, 31), "Harbour Laboratory",
    )  # fmt: skip


def _films(
    folder: Path,
    correction: str,
    pieces: Sequence[str] = BOTH_ENDS,
    dark: float = 0.0,
    digits: int = 2,
) -> Evidence:
    yard = HeadYard(folder, pieces, dark, digits)
    text = TRIAL + (f'drift_correction = "{correction}"\n' if correction else "")
    yard.checked()
    for stage in ("bare", "applied"):
        yard.begun(stage, text)
        for zone, true in TRUE.items():
            is_coated = stage == "applied" and zone.startswith("T")
            for off in (-0.05, 0.0, 0.05):
                yard.clock.advance(10)
                yard.shown(true * (FILM if is_coated else 1.0) + off)
        yard.act(lambda at: yard.acts.runs.finish("", at))
        yard.checked()
    yard.close()
    (found,) = evidence_of(load_trial(yard.bench.store, "films"))
    return found


def _results(found: Evidence, correction: str) -> MeasureResult:
    """As the readings were read, or corrected where that is wanted."""
    if not correction:
        return found.result
    assert found.corrected is not None
    assert found.corrected.result is not None
    return found.corrected.result


@pytest.mark.parametrize("correction", ["", "offset", "gain"])
def test_the_open_beam_stands_for_the_head_however_far_the_slides_lie_below(
    tmp_path: Path, correction: str
) -> None:
    found = _films(tmp_path, correction)
    assert {a.opening.piece for a in found.anchors} == {"OPEN"}
    result = _results(found, correction)
    for change in result.changes:
        assert change.estimate is not None
        assert change.budget is not None
        true = FILM if change.zone.startswith("T") else 1.0
        ratio = math.exp(change.estimate)
        assert abs(ratio / true - 1) <= change.budget.expanded + 1e-3
    # Both ends are right, so a level is off by its part of the bend alone, once.
    level = result.level("T1", "applied")
    assert level is not None
    assert level.budget is not None
    part = TRUE["T1"] * FILM / 100
    assert level.budget.bias == pytest.approx(4 * BEND * part * (1 - part), abs=0.03)


@pytest.mark.parametrize("correction", ["", "offset", "gain"])
def test_without_a_dark_the_line_through_beam_and_filter_tells_of_it(
    tmp_path: Path, correction: str
) -> None:
    """It shows 0.4 % without light and 0.2 % too much at the filter."""
    found = _films(tmp_path, correction, ("OPEN", "N50"), dark=0.4)
    result = _results(found, correction)
    for change in result.changes:
        assert change.estimate is not None
        assert change.budget is not None
        true = 0.0 if change.zone.startswith("C") else math.log(FILM)
        assert abs(change.estimate - true) <= change.budget.expanded
    coated = next(c for c in result.changes if c.zone == "T1")
    assert coated.budget is not None
    assert coated.estimate is not None
    assert coated.estimate - math.log(FILM) == pytest.approx(coated.budget.bias, abs=1.5e-3)
    assert coated.budget.bias > 0.005
    (said,) = (rule for rule in result.rules if "read the dark" in rule)
    assert "the line through both is drawn on to it" in said
    assert not any("read a certified filter between" in rule for rule in result.rules)


def test_three_pieces_without_a_dark_tell_a_bend_and_the_rules_say_so(tmp_path: Path) -> None:
    result = _films(tmp_path, "", ("OPEN", "N80", "N50")).result
    coated = next(c for c in result.changes if c.zone == "T1")
    assert coated.budget is not None
    assert any(b.name.startswith("bend of the meter's scale at N80") for b in coated.budget.biases)
    (said,) = (rule for rule in result.rules if "bend of the head's scale" in rule)
    assert "left a film of 15 % open by 14 % of itself, or not to be judged at all" in said
    assert said.startswith("The checks around these readings read three pieces or more, and none")
    assert not any("take the head's scale to be straight" in rule for rule in result.rules)
    assert any("read the dark" in rule for rule in result.rules)


def test_how_well_a_piece_was_read_names_the_step_that_its_doubt_was_made_of(
    tmp_path: Path,
) -> None:
    """A computer made the digits that were sent; the check has the step that its policy states."""
    result = _films(tmp_path, "", digits=9).result
    assert result.resolution < 0.01
    level = result.level("T1", "applied")
    assert level is not None
    assert level.budget is not None
    read = [t for t in level.budget.terms if t.name.startswith("reading of check")]
    assert {t.note.rpartition("(")[2] for t in read} == {"0.01 % a step)."}
    # Three readings that agree leave the step alone.
    assert [t.u for t in read] == pytest.approx([0.01 / math.sqrt(12)] * len(read), rel=1e-6)


def half_of(rng: np.random.Generator, filters: Sequence[float]) -> float | None:
    """Of the interval of a film of 15 % by a straight head, relative; None where it is refused."""
    doubt = reading_doubt(0.05, 3, 0.1)
    beside = [
        Beside(f"N{c:g}", c, float(rng.normal(0, math.hypot(0.15, 0.03))), 0.0, 0.15, doubt, doubt)
        for c in filters
    ]
    foot = min(beside, key=lambda b: b.certified)
    brackets = [
        Bracket(
            stage, 1000.0 * k, 1000.0 * k + 900, 0.0, 0.0, "", float(rng.normal(0, 0.03)),
            piece="OPEN", certified=100.0, opening_check=2 * k + 1, closing_check=2 * k + 2,
            opening_doubt=doubt, closing_doubt=doubt, foot=foot,
            beside=tuple(b for b in beside if b is not foot),
        )
        for k, stage in enumerate(("bare", "applied"))
    ]  # fmt: skip
    slides = {
        (zone, stage): tuple(
            90.0 * (0.15 if (zone, stage) == ("wax", "applied") else 1.0) + rng.normal(0, 0.05, 3)
        )
        for stage in ("bare", "applied")
        for zone in ("control", "wax")
    }
    found = films_of(slides, brackets=brackets, resolution=0.1).comparison("wax", "applied")
    return found.budget.expanded if isinstance(found, Comparison) else None


@pytest.mark.parametrize(
    ("filters", "percent"), [((70.0, 50.0), 14), ((50.0,), 5), ((50.0, 20.0), 4)]
)
def test_a_film_below_three_pieces_is_as_open_as_the_rules_say(
    filters: Sequence[float], percent: int
) -> None:
    rng = np.random.default_rng(3)
    halves = [half for _ in range(40) if (half := half_of(rng, filters)) is not None]
    assert 100 * statistics.median(halves) == pytest.approx(percent, abs=0.7)
