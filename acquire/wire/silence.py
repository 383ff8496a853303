"""A silence of some length, by the moments at which bytes were received. Pure.

It is the same whether or not somebody asked while it lasted, so that a tape gives what the day
gave. One thread at a time.
"""

from __future__ import annotations

from acquire.model import Instant


class Silence:
    """Begins at the last bytes that were received."""

    def __init__(self, length_s: float) -> None:
        self._length_ns = round(length_s * 1e9)
        self._since: Instant | None = None

    def heard(self, at: Instant) -> None:
        """Bytes came: it begins anew."""
        self._since = at

    def forget(self) -> None:
        """Nothing was received yet."""
        self._since = None

    @property
    def end(self) -> Instant | None:
        """When it is long enough; None before the first bytes."""
        since = self._since
        if since is None:
            return None
        return Instant(since.utc_ns + self._length_ns, since.mono_ns + self._length_ns)

    def is_over(self, now: Instant) -> bool:
        """Whether it is long enough."""
        since = self._since
        return since is not None and now.mono_ns - since.mono_ns >= self._length_ns
