"""Treatments that differ by just the margin: how often is one falsely called equal to the control?

By the rule of results (`acquire.analysis.specimens.zones`, `acquire.analysis.specimens.blocks`):
the 90 % interval, by the spread of zones of all treatments or of the two sides where that is
larger, each treatment for itself. The margin is far wider than the spread, so that one of its ends
decides, which is the most that two one-sided tests err.

``python -m tests.unit.analysis.equalities [RUNS]`` prints the rates over zones or blocks and who
spreads by how much; with 40,000 runs each it takes about a minute.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.laws.student import t_quantile

Floats = NDArray[np.float64]
_LARGEST = 80
"""Zones in all of a design in blocks; nobody has more on a panel."""


class Design(NamedTuple):
    """Zones of each treatment and its true spread, the control's first; `in_blocks` one a block."""

    zones: tuple[int, ...]
    spreads: tuple[float, ...]
    in_blocks: bool = False

    @property
    def restless(self) -> int:
        """The product that is compared: the one that spreads otherwise, or the last."""
        others = [k for k, s in enumerate(self.spreads) if k and s != self.spreads[1]]
        return others[-1] if others else len(self.zones) - 1


def are_called_equal(changes: Sequence[Floats], which: int, margin: float, *, in_blocks: bool
                     ) -> NDArray[np.bool_]:  # fmt: skip
    """Whether each run calls a treatment equal; `changes` are runs by zones, the control's first.

    Three treatments with several zones at least, or two degrees of freedom beside a single zone.
    """
    zones = np.array([own.shape[1] for own in changes])
    if in_blocks:
        every = np.stack(changes, axis=1)
        rest = (
            every
            - every.mean(axis=2, keepdims=True)
            - every.mean(axis=1, keepdims=True)
            + every.mean(axis=(1, 2), keepdims=True)
        )
        nu = (len(changes) - 1) * (zones[0] - 1)
        square = 2 * (rest**2).sum(axis=(1, 2)) / nu
        own = (changes[which] - changes[0]).var(axis=1, ddof=1)
        square = np.maximum(square, own) / zones[0]
    else:
        nu = (zones - 1).sum()
        squares = [
            own.var(axis=1, ddof=1) if own.shape[1] > 1 else np.zeros(len(own)) for own in changes
        ]
        pool = (zones - 1) @ np.stack(squares) / nu
        square = pool * (1 / zones[0] + 1 / zones[which])
        if min(zones[0], zones[which]) > 1:
            own = squares[0] / zones[0] + squares[which] / zones[which]
            square = np.maximum(square, own)
    half = -t_quantile(0.05, int(nu)) * np.sqrt(square)
    apart = np.abs(changes[which].mean(axis=1) - changes[0].mean(axis=1))
    found: NDArray[np.bool_] = apart + half < margin
    return found


def rate(design: Design, runs: int, seed: int = 1) -> float:
    """The part of runs in which the restless treatment is falsely called equal."""
    source = np.random.default_rng(seed)
    changes = [
        source.normal(0, spread, size=(runs, n))
        for n, spread in zip(design.zones, design.spreads, strict=True)
    ]
    margin = 1000 * max(design.spreads)
    changes[design.restless] += margin
    found = are_called_equal(changes, design.restless, margin, in_blocks=design.in_blocks)
    return float(found.mean())


def rate_of_slide(blanks: int, spread: float, runs: int, seed: int = 1) -> float:
    """The same of one coated slide beside blanks, whose spread is taken for its own."""
    source = np.random.default_rng(seed)
    on, bare = source.normal(0, spread, runs), source.normal(size=(runs, blanks))
    half = -t_quantile(0.05, blanks - 1) * bare.std(axis=1, ddof=1) * np.sqrt(1 + 1 / blanks)
    return float((on - bare.mean(axis=1) + half < 0).mean())


def alike(spreads: Sequence[float] = (1.0, 2.0, 3.0)) -> Iterator[Design]:
    """As many zones of each treatment, loose and one to a block; one of them more restless."""
    for n, k, spread in itertools.product((2, 3, 5, 10), (2, 3, 5, 8, 12), spreads):
        for who in ((*(1.0,) * k, spread), (spread, *(1.0,) * k)):
            yield Design((n,) * (k + 1), who)
            if n * (k + 1) <= _LARGEST:
                yield Design((n,) * (k + 1), who, in_blocks=True)


def fewer(few: int, spreads: Sequence[float] = (1.0, 2.0, 3.0)) -> Iterator[Design]:
    """One that is more restless and has fewer zones than the others."""
    for n, k, spread in itertools.product((2, 3, 4, 6, 10), (2, 3, 5, 8, 12), spreads):
        if n > few:
            yield Design((*(n,) * k, few), (*(1.0,) * k, spread))
            yield Design((few, *(n,) * k), (spread, *(1.0,) * k))


def main(runs: int = 40_000) -> None:
    """Print the table, each kind by its rates."""
    for name, designs in (("alike", alike()), ("two", fewer(2)), ("one", fewer(1))):
        found = sorted(((rate(d, runs), d) for d in designs), reverse=True)
        for part, design in found:
            blocks = " in blocks" if design.in_blocks else ""
            print(f"{name:<5} {part:.3f}  {design.zones} {design.spreads}{blocks}")  # noqa: T201
    for blanks, spread in itertools.product((2, 3, 5, 8), (1.0, 2.0, 3.0)):
        part = rate_of_slide(blanks, spread, runs)
        print(f"one slide beside {blanks} blanks, {spread:g} times: {part:.3f}")  # noqa: T201


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:2]))
