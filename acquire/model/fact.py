"""What a driver makes of the bytes of a link: readings, spectra, noise and notices, in order.

A driver never guesses. Bytes are a reading when the protocol says so, a notice when the device
tells of itself, and noise in every other case. Each fact names the stretch of the received
stream it was made from, so that it can be held against the tape.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from acquire.model.instant import Instant


class Quantity(StrEnum):
    """What an instrument gives. Readings of different quantities never mix.

    The first three are measured on surfaces, after checks. The others measure no surface: they are
    of the bench, and no reading of them can ever count as a measure.
    """

    GLOSS = "gloss"
    FORCE = "force"
    TRANSMITTANCE = "transmittance"
    STROKES = "counter"
    """Strokes of a counter beside the wash, by which washes are counted."""
    CLIMATE = "climate"
    """Temperature and relative humidity of the room."""


MEASURED = (Quantity.GLOSS, Quantity.FORCE, Quantity.TRANSMITTANCE)
"""What is measured on surfaces."""

TOTAL, STROKE = "total", "stroke"
"""Channels of a counter: its running count, and one stroke that it told of."""
TEMPERATURE, HUMIDITY = "temperature", "humidity"
"""Channels of a climate probe."""


class Flag(StrEnum):
    """Why a reading, though well formed, cannot stand for a fresh press inside the range."""

    OVER_RANGE = "over-range"
    """The device said that the value lies above its range; the value is absent."""
    UNDER_RANGE = "under-range"
    """The device said that the value lies below its range; the value is absent."""
    ECHO = "echo"
    """Sent on its own after power-up or connection: an old value, nobody pressed."""
    REPEAT = "repeat"
    """The same press sent again."""
    UNSURE_WHOSE = "not sure whose"
    """Its name came so late after it that another device may have been there in between."""
    OTHER_RATE = "other rate"
    """The peak of a pull whose samples come at another rate than its profile declares."""


OUT_OF_RANGE = frozenset((Flag.OVER_RANGE, Flag.UNDER_RANGE))
"""What says that a fresh press lay outside of the range."""


class NoticeKind(StrEnum):
    """What a device can tell of itself besides values."""

    IDENTITY = "identity"
    """Its serial number (`Notice.text`)."""
    POWER_UP = "power-up"
    """It was switched on; `Notice.text` is the serial number where the device sends one."""
    ADJUSTED = "adjusted"
    """It was re-adjusted by its own button: every earlier check is void."""
    TROUBLE = "trouble"
    """It reports an error of its own (`Notice.text`)."""
    TYPED_ONCE = "typed once"
    """A first entry (`Notice.text`) of one that is to be typed twice; it counts for nothing yet."""
    LAPSED = "lapsed"
    """A first entry was not typed again in time (`Notice.text`), and counts for nothing."""
    OTHER_RATE = "other rate"
    """Its samples come at another rate than declared (`Notice.text`); or `RATE_HOLDS` again."""


class Reading(NamedTuple):
    """One value as the device sent it; a named tuple, since one is made of every line in a flood.

    `value` is None exactly when a range flag is set. `unit` is a unit name of `acquire.units`,
    found by the driver through a closed table, never the device's text. `channel` is the angle
    in degrees (``"20"``, ``"60"``, ``"85"``) for gloss and empty for quantities without one.
    `press` is the device's own count of presses, where it has one. `start` and `end` are the
    offsets of `raw` in the bytes received since the connection was opened.
    """

    quantity: Quantity
    channel: str
    value: Decimal | None
    unit: str
    text: str
    at: Instant
    raw: bytes
    start: int
    end: int
    press: int | None = None
    flags: frozenset[Flag] = frozenset()


@dataclass(frozen=True, slots=True)
class Noise:
    """Bytes that are no reading and no notice, with the reason in plain words."""

    at: Instant
    raw: bytes
    start: int
    end: int
    reason: str


UNKNOWN_SERIAL = "(not told)"
"""The serial number of a device that was asked for it and told none. No bench has such a one."""

RATE_HOLDS = "its samples come at the rate of its profile again: the next pull counts"
"""The text of a notice of a rate that is another one no more."""

TOLD_BY_PERSON = "told by a person"
"""The text of a notice that did not come by the link."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the device told of itself."""

    kind: NoticeKind
    at: Instant
    raw: bytes
    start: int
    end: int
    text: str = ""


RAW_COUNTS = "count"
"""The unit of a spectrum of raw counts of a detector; readings never are in it."""


class SpectrumType(StrEnum):
    """What the numbers of a spectrum are, each least significant byte first (IEEE 754)."""

    BINARY32 = "binary32"
    BINARY64 = "binary64"


@dataclass(frozen=True, slots=True)
class EvenGrid:
    """Wavelengths of even distance: the first point's, and the step to each next one."""

    start_nm: float
    step_nm: float


@dataclass(frozen=True, slots=True)
class Spectrum:
    """One array over wavelength as the device sent it, in one press.

    `values` are the numbers as bytes of `type`, exactly as sent, but that the least significant
    byte stands first whatever the device's order. What a device sends as integers is binary64:
    the integer times the profile's scale. Numbers that are not finite stand as they were sent.
    Raw counts of a detector have the unit `RAW_COUNTS`, with the dark still in them.
    `wavelengths` are those of the points, in rising order: one each, or an even grid. `unit`,
    `press`, `flags`, `start` and `end` are those of `Reading`; readings of bands made of the same
    bytes follow it and share them.
    """

    quantity: Quantity
    unit: str
    values: bytes
    type: SpectrumType
    wavelengths: EvenGrid | tuple[float, ...]
    at: Instant
    raw: bytes
    start: int
    end: int
    press: int | None = None
    flags: frozenset[Flag] = frozenset()


@dataclass(frozen=True, slots=True)
class Samples:
    """A stretch of values at a steady rate, from a device that streams.

    `counts` are signed integers of 32 bits, least significant byte first; a value is its count
    times `step`, in `unit`. `first` is the place of the first sample in the stream of the
    connection, from 0; a leap in it is a stretch that was never received. `at` is when the last of
    its bytes came. Its bytes are on the tape from `start` to `end`; where a stretch is cut depends
    on the chunks in which they came, what it holds does not.
    """

    quantity: Quantity
    channel: str
    unit: str
    step: Decimal
    rate_hz: Decimal
    first: int
    counts: bytes
    at: Instant
    start: int
    end: int


Fact = Reading | Noise | Notice | Spectrum | Samples
