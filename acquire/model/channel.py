"""Which of the values of one press: the geometry of a gloss meter, the band of a transmission head.

Readings of different channels are different quantities and never mix. A channel is text: the angle
of a geometry in degrees (``20``, ``60``, ``85``); the limits of a band in nanometres (``315-400``)
or the one wavelength of a lamp (``940``); empty where a press has one value (force). What measures
no surface has words instead (``total``, ``temperature``). Pure.
"""

from __future__ import annotations

from collections.abc import Iterable

WIDEST_ANGLE_DEG = 90
"""A number up to here is an angle: no band lies below 100 nm."""


def channel_label(channel: str) -> str:
    """A channel as people write it: ``60°``, ``315-400 nm``; empty for an empty one."""
    if not channel:
        return ""
    # A tape of somebody else may name it by any number of digits.
    if channel.isdecimal() and float(channel) <= WIDEST_ANGLE_DEG:
        return f"{channel}°"
    return channel if channel.isalpha() else f"{channel} nm"


def channel_labels(channels: Iterable[str]) -> str:
    """Several channels in a row, for a message."""
    return ", ".join(map(channel_label, filter(None, channels)))


def at_channel(channel: str) -> str:
    """`` at 60°`` behind a name; empty for an empty channel."""
    if channel.isalpha():
        return f" ({channel})"
    return f" at {channel_label(channel)}" if channel else ""
