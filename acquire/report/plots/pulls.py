"""The force of one pull over time, with its zero, onset, first peak and steady window.

Pure; any thread.
"""

from __future__ import annotations

import numpy as np

from acquire.report.evidence.pulls import FoundPull
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.timeline import Timeline

_BEFORE_S, _BEHIND_S = 0.4, 0.3
_UNFOUND_S = 4.0
HEIGHT = 190


def pull_plot(found: FoundPull, title: str, paper: Paper = SCREEN, remark: str = "") -> str:
    """The drawing as SVG: raw newtons as sent, the steady window shaded, the zero as a line.

    `remark` stands in its corner. Of a reading without a pull the seconds before its end are drawn,
    with no mark.
    """
    rate = float(found.trace.rate_hz)
    force = found.trace.force_n
    pull = found.pull
    end = found.end - found.trace.first
    if pull is None:
        first, last = max(0, end - round(_UNFOUND_S * rate)), min(end, force.size)
    else:
        first = max(0, pull.start - round(_BEFORE_S * rate))
        last = min(force.size, pull.end + round(_BEHIND_S * rate))
    part = force[first:last]
    at_s = np.arange(part.size) / rate
    ends = (float(part.min()), float(part.max()), 0.0)
    drawing = Timeline(0.0, float(at_s[-1]), ends, HEIGHT, paper)
    begun_s = first / rate
    if pull is not None:
        steady = pull.steady
        drawing.shade(steady.start_s - begun_s, steady.end_s - begun_s)
        drawing.level(pull.zero_n, Ink.SOFT, is_dashed=True)
    drawing.course(at_s, part)
    if pull is not None:
        drawing.level(pull.zero_n + pull.steady.mean_n, Ink.TEXT, is_dashed=True)
        drawing.upright(pull.onset_s - begun_s)
        drawing.upright(pull.peak_s - begun_s, "first peak")
    drawing.foot([(0.0, "0 s"), (float(at_s[-1]), f"{at_s[-1]:.1f} s")])
    drawing.remark(remark)
    return drawing.svg(title)
