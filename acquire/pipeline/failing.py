"""What a driver that failed had made nothing of, as noise: nothing that came is lost with it.

That is more than the bytes it failed on: a driver may hold a reading until the device has said
whose it is. Pure.
"""

from __future__ import annotations

from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Noise

FAILED = "the driver failed before it had given what these bytes mean"
FAILED_BEFORE = "the driver failed on these bytes"
"""As older stores and tapes have it."""
NOISE_BYTES = 4096
"""Of a stream much may be held; so much makes a row."""


def failed_on(guard: Guard, received: int, at: Instant, data: bytes = b"") -> list[Fact]:
    """Noise of all behind the last fact, in a stream of so many bytes.

    `data` is what the driver was fed as it failed, if anything.
    """
    start, rest = guard.rest()
    rest += data[len(data) - (received - start - len(rest)) :]
    # The end of a line belongs to the fact before it.
    rest = rest.lstrip(b"\r\n")
    start = received - len(rest)
    return [
        Noise(at, raw, start + place, start + place + len(raw), FAILED)
        for place in range(0, len(rest), NOISE_BYTES)
        for raw in (rest[place : place + NOISE_BYTES],)
    ]
