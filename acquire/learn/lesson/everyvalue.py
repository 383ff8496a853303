"""All numbers that presses sent, also those of geometries that nobody was shown. Pure.

They end what a display is thought to show: 20° on bare metal reads more than 60°, and whoever was
shown 60° alone says nothing of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError
from acquire.learn.beside.against import Against
from acquire.learn.lines.line import Line
from acquire.learn.numbers.limits import Limits
from acquire.learn.presses.press import About, Press, decimals_of
from acquire.learn.profile.proved import readings
from acquire.learn.profile.written import line_profile
from acquire.learn.told.reasons import NO_LIMIT

_ENDLESS = Decimal(10**9)
"""More than any pattern has digits for."""


def every_value(
    line: Line, end: bytes, about: About, presses: Sequence[Press], registry: Registry
) -> list[Decimal]:
    """What was shown, and what lines of several geometries gave beside it.

    As the driver reads them, so that no sign, point or power of ten is read in another way here.
    """
    shown = [press.shown for press in presses]
    if not line.channels or len(line.units) > 1:
        return shown
    endless = Limits(-_ENDLESS, _ENDLESS, decimals_of(shown), False, False)
    text = line_profile(line, end, about, endless, remarks=(), repeats=False)
    try:
        given = readings("line", text, [press.data for press in presses], registry)
    except CoatbenchError:
        # The profile is held against the presses later, and its faults are told then.
        return shown
    return [*shown, *(one.value for here in given for one in here if one.value is not None)]


def beyond(values: Sequence[Decimal], about: About, how: str) -> Against | None:
    """What came of a press and cannot have, by what was said of the display; `how` it came."""
    for value in values:
        if about.most is not None and value > about.most:
            said = f"{about.most} is the largest number of its display (--most {about.most})"
            return Against("most", said, f"{value} {how}", NO_LIMIT)
        if about.least is not None and value < about.least:
            said = f"{about.least} is the least number of its display (--least {about.least})"
            return Against("least", said, f"{value} {how}", NO_LIMIT)
    return None
