"""What a person said of the geometry or band, held against what each press says of its own. Pure.

The bytes say it where a profile reads it by tokens, or several values by theirs: then what was said
of all presses would be dropped. It is refused where the number that was shown is one of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn.against import Against
from acquire.learn.press import About, Press, half_step
from acquire.learn.proved import readings
from acquire.learn.setting import seen

_STEP = (
    "leave --{0} out: each press is read at the {0} that it says; to learn one of them alone, "
    "press with the meter set to it"
)


def channel_refused(
    family: str, profile: str, presses: Sequence[Press], about: About, registry: Registry,
    rounded: int | None,
) -> Against | None:  # fmt: skip
    """Why the geometry or band that was said is none of the presses; None where it is that of all.

    By a profile that is proved.
    """
    if about.channel is None or not about.channel_key:
        return None
    half = Decimal(0) if rounded is None else half_step(rounded)
    given = readings(family, profile, [press.data for press in presses], registry)
    own: list[str] = []
    for here, press in zip(given, presses, strict=True):
        channels = [
            one.channel
            for one in here
            if one.value is not None and abs(one.value - press.shown) <= half
        ]
        own.append(about.channel if about.channel in channels else channels[0])
    if {*own} == {about.channel}:
        return None
    key = about.channel_key
    told = seen(own) if len({*own}) > 1 else f"{own[0]} at every press"
    return Against(
        "channel",
        f"the {key} is {about.channel} (--{key} {about.channel})",
        f"the bytes say a {key} of {told}",
        _STEP.format(key),
    )
