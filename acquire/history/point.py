"""The figure of one check as a chart needs it.

One history holds the points of one instrument serial number, one piece and one channel; keeping
them apart is the caller's part. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple


class Point(NamedTuple):
    """Mean read off the piece less its certified value, at one check.

    `u` is the standard uncertainty of the mean alone (scatter, display), without that of the
    certificate: all checks share that one, and what is shared tells nothing of a change. 0 where
    it is not known. `was_readjusted` says that the meter was re-adjusted between the check before
    and this one. `certified` and `u_certified` (standard uncertainty) describe the certificate in
    the same unit; without `certified` a change of certificate always ends a segment. `unit` is a
    name of `acquire.units`.
    """

    at_ns: int
    deviation: float
    u: float
    check: int
    certificate: str
    unit: str
    was_readjusted: bool = False
    certified: float | None = None
    u_certified: float = 0.0
