"""Every calculation that case files can ask for, by its name there.

Each takes the inputs of a case and answers with every quantity it can give, through the same
functions that results use. No arithmetic of interest happens here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tests.reference.calcs import (
    bracketing,
    comparison,
    friction,
    gloss,
    history,
    outlier,
    power,
    precision,
    transmission,
    uncertainty,
)
from tests.reference.calcs.answer import Answer

CALCS: dict[str, Callable[[Mapping[str, Any]], Answer]] = {
    **bracketing.CALCS,
    **comparison.CALCS,
    **friction.CALCS,
    **gloss.CALCS,
    **history.CALCS,
    **outlier.CALCS,
    **power.CALCS,
    **precision.CALCS,
    **transmission.CALCS,
    **uncertainty.CALCS,
}
