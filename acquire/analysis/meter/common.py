"""An error that all readings of a measure have in common, each by its own share.

The mass of a sled is weighed once, and whatever it is off by is in every coefficient of friction:
it moves a mean in proportion, and so a difference; only in a ratio it cancels. What a contrast has
of such an error is the sum of its weights times what each reading has of it (JCGM 100:2008, 5.1.3,
with the correlation of 5.2.4 in it, since there is one input and not one a reading). Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from acquire.analysis.budget.uncertainty import Bias, Distribution, Kind, Term
from acquire.analysis.cells.contrast import BALANCED, Contrast
from acquire.analysis.meter.systematic import Systematic
from acquire.analysis.samples.sample import Sample


@dataclass(frozen=True, slots=True, eq=False)
class Common:
    """`u` is the standard uncertainty of the input, with `nu` degrees of freedom.

    `effect` is what one unit of the input does to the value of a reading, which may hang on how
    large it is.
    `note` is a sentence for the budget. `found` is what is known of the error and was not taken off
    the readings, in the unit of the input; `source` says so as the subject of a sentence.
    """

    name: str
    u: float
    note: str
    effect: Callable[[Sample], float]
    nu: float = math.inf
    found: float = 0.0
    source: str = ""

    def sensitivity(self, contrast: Contrast) -> float:
        """What one unit does to a contrast; 0 where its parts cancel but for their last digits."""
        parts = [
            weight * cell.per_unit / cell.n * math.fsum(map(self.effect, cell.samples))
            for cell, weight in contrast.parts
        ]
        total = math.fsum(parts)
        return total if abs(total) > BALANCED * math.fsum(map(abs, parts)) else 0.0

    def term(self, contrast: Contrast) -> Term:
        """Its line in the budget of a contrast."""
        by = self.sensitivity(contrast)
        # One estimate, which stands in the differences of all treatments.
        return Term(
            self.name, Kind.B, self.u, self.nu, by, Distribution.NORMAL, self.note, is_common=True
        )


def with_common(known: Systematic, contrast: Contrast, common: Sequence[Common]) -> Systematic:
    """What display and checks know of a contrast, with what is known of these errors beside it."""
    shifts = [
        (c.source, Bias(c.name, c.found, c.sensitivity(contrast), c.note))
        for c in common
        if c.found
    ]
    named = [known.source] if any(b.contribution for b in known.biases) or not shifts else []
    return known._replace(
        terms=(*known.terms, *(c.term(contrast) for c in common)),
        biases=(*known.biases, *(bias for _, bias in shifts)),
        source=" and ".join(dict.fromkeys([*named, *(source for source, _ in shifts)])),
    )
