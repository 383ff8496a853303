"""A gauge that streams: each pull is without its own zero, and its checks count without theirs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.model import (
    Batch,
    Certificate,
    Chunk,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
    Reading,
)
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from tests.streamed import PULLED, StreamYard, drawn_pull
from tests.yard import Yard

WEIGHT_N = 0.2 * 9.80665
PIECES = {
    "W0": (PieceKind.NO_LOAD, "0", "0.0005"),
    "W200": (PieceKind.CHECK_WEIGHT, "1.96133", "0.002"),
}
TRIAL = (
    """
[trial]
id = "sliding"
title = "Sliding on gelcoat"
stages = ["bare", "applied"]

"""
    + PULLED
    + """
[measure.sled]
mass = "200 g"
expanded_uncertainty = "0.2 g"
"""
)


class ZeroYard(StreamYard):
    """A streaming gauge of which a check reads no load and a weight."""

    def open(self) -> None:
        super().open()
        self.writer.close()
        first = self.bench.instruments[0]
        policy = replace(
            first.policy, id="force", unit="newton", resolution=Decimal("0.001"),
            valid_for_s=1e6,
            rules=tuple(PieceRule(n, 3, Decimal("0.2"), Decimal("0.1")) for n in PIECES),
        )  # fmt: skip
        pieces = tuple(
            Piece(name, kind, (_certificate(name, value, expanded),))
            for name, (kind, value, expanded) in PIECES.items()
        )
        instruments = (replace(first, policy=policy),)
        self.bench = replace(self.bench, instruments=instruments, pieces=pieces)
        Yard.open(self)

    def checked(self, zero_n: float, gain: float) -> None:
        self.act(lambda at: self.acts.checks.begin("puller", at))
        for _, value, _ in PIECES.values():
            for _ in range(3):
                self.clock.advance(1)
                self._held(zero_n + float(value) * (1 + gain))
        self.clock.advance(1)

    def _held(self, force_n: float) -> None:
        now, value = self.clock.now(), f"{force_n:.3f}"
        raw = f"{value} N\r\n".encode()
        end = self._sent + len(raw)
        reading = Reading(
            Quantity.FORCE, "", Decimal(value), "newton", value, now, raw, self._sent, end
        )
        chunk, self._sent = Chunk(self._sent, raw, now), end
        batch = Batch("puller", self._connections["puller"], received=chunk, facts=(reading,))
        self.store(self.desk.take_in(batch))


def _certificate(name: str, value: str, expanded: str) -> Certificate:
    return Certificate(
        name, Quantity.FORCE, "", Decimal(value), "newton", Decimal(expanded), Decimal(2),
        date(2026, 1, 31), date(2030, 1, 31), "Harbour Laboratory",
    )  # fmt: skip


def _kinetic(folder: Path, zero_n: float, gain: float, correction: str = "") -> Evidence:
    """True kinetic coefficients: 0.300 and 0.310 before, 0.300 and 0.210 after."""
    yard = ZeroYard(folder)
    text = TRIAL
    if correction:
        text = text.replace(
            "higher_is_better = false",
            f'higher_is_better = false\ndrift_correction = "{correction}"',
        )
    yard.checked(zero_n, gain)
    for stage, coefficients in (("bare", (0.30, 0.31)), ("applied", (0.30, 0.21))):
        yard.stream(1.0, zero_n)
        yard.begin_slick(stage, text)
        for true in coefficients:
            for off in (-0.0005, 0.0, 0.0005):
                kinetic_n = (true + off) * WEIGHT_N * (1 + gain)
                yard.pull(drawn_pull(kinetic_n + 0.1 * WEIGHT_N, kinetic_n), zero_n=zero_n)
        yard.finish()
        yard.checked(zero_n, gain)
    yard.close()
    return evidence_of(load_trial(yard.bench.store, "sliding"))[1]


TRUE = {("A", "bare"): 0.30, ("B", "bare"): 0.31, ("A", "applied"): 0.30, ("B", "applied"): 0.21}


@pytest.mark.parametrize(
    ("zero_n", "gain", "correction"),
    [(0.025, 0.0, ""), (0.025, 0.0, "offset"), (0.025, -0.03, ""), (0.0, -0.03, "")],
)
def test_levels_hold_the_truth_of_a_gauge_with_a_zero_and_a_gain(
    tmp_path: Path, zero_n: float, gain: float, correction: str
) -> None:
    found = _kinetic(tmp_path, zero_n, gain, correction)
    result = found.result
    if correction:
        assert found.corrected is not None
        assert found.corrected.result is not None
        result = found.corrected.result
    for (zone, stage), true in TRUE.items():
        level = result.level(zone, stage)
        assert level is not None
        assert level.budget is not None
        assert level.cell.mean is not None
        assert abs(level.cell.mean - true) <= level.budget.expanded
        # The zero is nowhere in it, and the gain by as much as was pulled.
        assert level.budget.bias == pytest.approx(gain * true, abs=4e-4)
