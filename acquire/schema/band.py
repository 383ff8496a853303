"""A band of transmittance as written in a file: its limits in nm, or the one wavelength of a lamp.

The same for settings and for profiles of drivers. Pure; any thread.
"""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import BeforeValidator, Field

SHORTEST_NM = 200
LONGEST_NM = 2500
ONE_BAND = 'limits in nm such as "315-400", or the wavelength of a lamp such as "940"'
_FORM = re.compile(r"[1-9]\d{2,3}(?:-[1-9]\d{2,3})?")


def band(value: object) -> str:
    """The band. Raises ValueError saying what is wanted."""
    if not isinstance(value, str) or _FORM.fullmatch(value) is None:
        raise ValueError(ONE_BAND)
    limits = [int(limit) for limit in value.split("-")]
    inside = all(SHORTEST_NM <= limit <= LONGEST_NM for limit in limits)
    if not inside or (len(limits) == 2 and limits[0] >= limits[1]):
        raise ValueError(f"{ONE_BAND}, from {SHORTEST_NM} to {LONGEST_NM}, the lower limit first")
    return value


Band = Annotated[str, BeforeValidator(band), Field(description=ONE_BAND)]
