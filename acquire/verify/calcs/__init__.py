"""Every calculation that case files can ask for, by its name there.

Each takes the inputs of a case and answers with every quantity it can give, by calls of the
functions of `analysis`, `calibration`, `history` and `units`; where results have such a figure, of
the one they call. No arithmetic of interest happens here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from acquire.verify.calcs import (
    agreement,
    bracketing,
    checks,
    comparison,
    decision,
    durability,
    friction,
    gloss,
    groups,
    history,
    outlier,
    power,
    precision,
    ranking,
    transmission,
    uncertainty,
    units,
)
from acquire.verify.calcs.answer import Answer

CALCS: dict[str, Callable[[Mapping[str, Any]], Answer]] = {
    **agreement.CALCS,
    **bracketing.CALCS,
    **checks.CALCS,
    **comparison.CALCS,
    **decision.CALCS,
    **durability.CALCS,
    **friction.CALCS,
    **gloss.CALCS,
    **groups.CALCS,
    **history.CALCS,
    **outlier.CALCS,
    **power.CALCS,
    **precision.CALCS,
    **ranking.CALCS,
    **transmission.CALCS,
    **uncertainty.CALCS,
    **units.CALCS,
}
