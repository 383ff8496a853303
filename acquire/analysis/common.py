"""An error that all readings of a measure have in common, each by its own share.

The mass of a sled is weighed once, and whatever it is off by is in every coefficient of friction:
it moves a mean in proportion, and so a difference; only in a ratio it cancels. What a contrast has
of such an error is the sum of its weights times what each reading has of it (JCGM 100:2008, 5.1.3,
with the correlation of 5.2.4 in it, since there is one input and not one a reading). Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from acquire.analysis.contrast import Contrast
from acquire.analysis.uncertainty import Distribution, Kind, Term


@dataclass(frozen=True, slots=True, eq=False)
class Common:
    """`u` is the standard uncertainty of the input, with `nu` degrees of freedom.

    `effects` has by the number of each reading what one unit of the input does to its value.
    `note` is a sentence for the budget.
    """

    name: str
    u: float
    note: str
    effects: Mapping[int, float]
    nu: float = math.inf

    def term(self, contrast: Contrast) -> Term:
        """Its line in the budget of a contrast. KeyError for a reading that is not known."""
        sensitivity = math.fsum(
            weight / cell.n * math.fsum(self.effects[s.reading_id] for s in cell.samples)
            for cell, weight in contrast.parts
        )
        return Term(self.name, Kind.B, self.u, self.nu, sensitivity, Distribution.NORMAL, self.note)
