"""How long a judgement takes: three pieces at three geometries, with linearity, of five readings.

The baseline is the plain arithmetic of the same readings, without guard band, certificates or
words: mean and standard deviation in decimals, as the standard library has them.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from time import perf_counter_ns

from acquire.calibration import judge
from acquire.model import (
    Certificate,
    CheckPolicy,
    Outcome,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
)
from tests.benchmarks.result import Result

GOAL_MS = 1.0
_ROUNDS, _TIMES = 7, 60
_CHANNELS = ("20", "60", "85")
_TODAY = date(2026, 5, 4)
_PIECES = {
    "T1": (PieceKind.GLOSS_TILE, "93.2"),
    "T2": (PieceKind.GLOSS_TILE, "48.6"),
    "Z0": (PieceKind.BLACK_TRAP, "0.0"),
}


def measure_judging(_: Path) -> list[Result]:
    """The least of seven medians, of both: what the machine does besides is no part of either."""
    pieces = {name: _piece(name, kind, value) for name, (kind, value) in _PIECES.items()}
    policy = CheckPolicy(
        "gloss", Quantity.GLOSS, _CHANNELS, "gloss_unit", Decimal("0.1"),
        tuple(PieceRule(name, 5, Decimal("1.5"), Decimal("0.5")) for name in pieces), 3600.0,
        linearity_limit=Decimal("1.5"),
    )  # fmt: skip
    readings = {
        (name, channel): [Decimal(value) + Decimal(n) / 10 for n in range(5)]
        for name, (_, value) in _PIECES.items()
        for channel in _CHANNELS
    }
    assert judge("shore", policy, pieces, readings, _TODAY).outcome is Outcome.PASS

    def plainly() -> None:
        for values in readings.values():
            statistics.mean(values)
            statistics.stdev(values)

    ours = _least_ms(lambda: judge("shore", policy, pieces, readings, _TODAY))
    plain = _least_ms(plainly)
    return [Result("a judgement: 3 pieces, 3 geometries", "ms", ours, plain, GOAL_MS, True, False)]


def _least_ms(work: Callable[[], object]) -> float:
    def median() -> float:
        spent = []
        for _ in range(_TIMES):
            begun = perf_counter_ns()
            work()
            spent.append(perf_counter_ns() - begun)
        return statistics.median(spent) / 1e6

    return min(median() for _ in range(_ROUNDS))


def _piece(name: str, kind: PieceKind, value: str) -> Piece:
    certificates = tuple(
        Certificate(
            name,
            Quantity.GLOSS,
            channel,
            Decimal(value),
            "gloss_unit",
            Decimal("0.3"),
            Decimal(2),
            date(2026, 1, 31),
            date(2027, 1, 31),
            "Harbour Metrology",
        )
        for channel in _CHANNELS
    )
    return Piece(name, kind, certificates)
