"""The decision on a net change, in one of five words, and the sentence that carries it.

Pure; any thread.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.figures import rounded, signed, span

WORTH_SAYING = 0.1
"""A known bias is named in words from this part of the reach on; the budget always has it."""


class Decision(StrEnum):
    """What the run shows about a treatment against the control."""

    BETTER = "better"
    WORSE = "worse"
    EQUAL = "shown equal"
    """Equal within the margin that the plan named in advance."""
    NOT_SHOWN = "no difference shown"
    """Neither a difference nor equality: the run could not see so little."""
    REFUSED = "no decision"
    """Too little data to judge."""


class Finding(NamedTuple):
    """The figures a decision rests on, in the unit of the measure.

    `half_width` belongs to the simultaneous 95 % interval, `equality_half_width` to the 90 %
    interval of the two one-sided tests, both with the known bias of the meter in them; `margin` is
    None where the plan claims no equality. `bias` is what drift, offset and gain of the meter, as
    the checks found them, would alone have made of the estimate; `bias_source` names them.
    `is_of_gain` is whether some of it is in proportion to what was read.
    """

    estimate: float
    half_width: float
    equality_half_width: float
    margin: float | None
    bias: float = 0.0
    bias_source: str = "a steady drift of the meter, as found by the checks,"
    is_of_gain: bool = False

    @property
    def is_difference_shown(self) -> bool:
        return abs(self.estimate) > self.half_width

    @property
    def is_left_to_bias(self) -> bool:
        """Whether nothing but the known bias keeps a difference from being shown."""
        return not self.is_difference_shown and (
            abs(self.estimate) > self.half_width - abs(self.bias)
        )

    @property
    def is_equality_shown(self) -> bool:
        """Two one-sided tests at 5 %: the 90 % interval lies inside the margin."""
        return (
            self.margin is not None and abs(self.estimate) + self.equality_half_width < self.margin
        )


def decide(finding: Finding, *, higher_is_better: bool) -> Decision:
    """Equality goes first: the plan said in advance which differences do not matter."""
    if finding.is_equality_shown:
        return Decision.EQUAL
    if not finding.is_difference_shown:
        return Decision.NOT_SHOWN
    return Decision.BETTER if (finding.estimate > 0) == higher_is_better else Decision.WORSE


def worded(decision: Decision, finding: Finding, subject: str, suffix: str, smallest: float) -> str:
    """The decision in sentences, about `subject`; `smallest` is the visible difference."""
    u = finding.half_width
    figure = f"{signed(finding.estimate, u)}{suffix}"
    interval = span(finding.estimate - u, finding.estimate + u, u)
    net = f"Net change against the control {figure}, 95 % interval {interval}{suffix}."
    if abs(finding.bias) >= WORTH_SAYING * u:
        source = finding.bias_source[0].upper() + finding.bias_source[1:]
        where = "of it" if finding.is_of_gain else "between equal zones"
        net += (
            f" {source} would alone have made "
            f"{signed(finding.bias, u)}{suffix} {where}; the interval is wider by as much."
        )
    seen = f"The smallest difference this run could have seen is {rounded(smallest, u)}{suffix}."
    if decision is Decision.EQUAL and finding.margin is not None:
        tail = (
            " A difference is shown too, but it is smaller than the margin."
            if finding.is_difference_shown
            else ""
        )
        narrow = finding.equality_half_width
        ends = (finding.estimate - narrow, finding.estimate + narrow)
        interval = span(*ends, u, (-finding.margin, finding.margin))
        return (
            f"{subject}: shown equal to the control within ±{finding.margin:g}{suffix}. {net} "
            f"Equality is decided by the 90 % interval, {interval}{suffix}, "
            f"which lies inside the margin.{tail} {seen}"
        )
    if decision is Decision.NOT_SHOWN:
        left = (
            " That alone keeps it from being called a difference."
            if finding.is_left_to_bias
            else ""
        )
        return (
            f"{subject}: no difference from the control shown. {net}{left} {seen} "
            "That none was shown does not mean that there is none."
        )
    return f"{subject}: {decision} than the control. {net} {seen}"
