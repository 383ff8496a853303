"""What a person said of the setting of a meter, held against what each press says of it. Pure.

The bytes say it where a profile reads it by tokens, or several values by theirs: then what was said
of all presses would be dropped. It is refused where the number that was shown is one of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn.beside.against import Against
from acquire.learn.presses.press import About, Press, half_step
from acquire.learn.profile.proved import readings
from acquire.learn.profile.setting import seen

_STEP = (
    "leave --{0} out: each press is read at the {0} that it says; to learn one of them alone, "
    "press with the meter set to it"
)


_OF_ALL = (
    "leave --one-setting out: each press is read as it says itself; to learn one setting alone, "
    "press with the meter set to it"
)


def channel_refused(
    family: str, profile: str, presses: Sequence[Press], about: About, registry: Registry,
    rounded: int | None,
) -> Against | None:  # fmt: skip
    """Why the geometry or band that was said is none of the presses, or why they were of several.

    None where it is that of all, or nothing was said. By a profile that is proved.
    """
    is_said = about.channel is not None and bool(about.channel_key)
    if not (is_said or about.settled):
        return None
    half = Decimal(0) if rounded is None else half_step(rounded)
    given = readings(family, profile, [press.data for press in presses], registry)
    own = []
    for here, press in zip(given, presses, strict=True):
        shown = [
            one for one in here if one.value is not None and abs(one.value - press.shown) <= half
        ]
        own.append(next((one for one in shown if one.channel == about.channel), shown[0]))
    key = about.channel_key
    channels = [one.channel for one in own]
    if is_said and {*channels} != {about.channel}:
        return Against(
            "channel",
            f"the {key} is {about.channel} (--{key} {about.channel})",
            f"the bytes say a {key} of {_told(channels)}",
            _STEP.format(key),
        )
    for what, said in ((key, channels), ("unit", [one.unit for one in own])):
        if len({*said[: about.settled]}) > 1:
            return Against(
                "setting",
                f"all presses were of one {what} (--one-setting)",
                f"the bytes say a {what} of {_told(said)}",
                _OF_ALL,
            )
    return None


def _told(said: Sequence[str]) -> str:
    return seen(said) if len({*said}) > 1 else f"{said[0]} at every press"
