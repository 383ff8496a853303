"""Holds what one driver gives, call after call, against the bytes and moments it was given.

Bytes are evidence: a fact names the bytes it was made of, and they must be those that came. No byte
is used twice but by readings of several channels in one frame. One guard a connection, one thread.
"""

from __future__ import annotations

from acquire.driverapi.fit import is_instant, is_plain, misfit, shown
from acquire.driverapi.fit_samples import COUNT_BYTES
from acquire.errors import DriverError
from acquire.model import Fact, Instant, Quantity, Reading, Samples, Spectrum

# A driver may name a moment between two chunks; it may not make one up.
_CLOCKS_APART_NS = 1_000_000
MOST_KEPT_BYTES = 4 << 20
"""Of bytes that no fact has been made of yet, the last so many are kept to be compared."""
OUT_OF_PLACE = "a fact from "
"""So begins what is said of a fact whose place in the stream it cannot have."""
MOST_WITHOUT_BYTES = 1024
"""Facts of one call that time alone made, or that say what is between the bytes."""


class Guard:
    """What one connection's driver may give. `quantity` is what its instrument measures."""

    def __init__(self, driver_name: str, opened: Instant, quantity: Quantity | None = None) -> None:
        self._name = driver_name
        self._quantity = quantity
        self._kept = bytearray()
        self._kept_from = 0
        self._place = 0
        self._given_to = 0
        self._samples_end = -1
        self._opened = opened
        self._latest_mono_ns = opened.mono_ns
        self._least_apart_ns = self._most_apart_ns = opened.utc_ns - opened.mono_ns

    def tell(self, at: Instant) -> None:
        """Note a moment that the driver is given with a call."""
        apart_ns = at.utc_ns - at.mono_ns
        self._latest_mono_ns = at.mono_ns
        self._least_apart_ns = min(self._least_apart_ns, apart_ns)
        self._most_apart_ns = max(self._most_apart_ns, apart_ns)

    def facts(self, given: object, fed: bytes, at: Instant) -> list[Fact]:
        """The facts of one call of `feed` or `lost` at a moment. Raises `DriverError` if unfit."""
        self._kept += fed
        self.tell(at)
        if type(given) is not list:
            raise self._unfit(f"{type(given).__name__[:60]} where a list of facts belongs")
        received = self._kept_from + len(self._kept)
        if len(given) > received - self._place + MOST_WITHOUT_BYTES:
            raise self._unfit(f"{len(given)} facts of {received - self._place} bytes")
        before: Fact | None = None
        channels: set[str] = set()
        kept, kept_from, quantity = self._kept, self._kept_from, self._quantity
        for fact in given:
            if (
                is_plain(fact, at)
                and fact.quantity is quantity
                and kept_from <= fact.start >= self._place
                and fact.start < fact.end <= received
                and kept.startswith(fact.raw, fact.start - kept_from)
            ):
                # One reading of bytes that nothing was made of before: nearly all are.
                before = fact
                channels = {fact.channel}
                self._place = fact.end
                continue
            if wrong := misfit(fact, at) or self._misfit_here(fact, received, at):
                raise self._unfit(wrong)
            # Several readings of one press may come in one frame, and each has all its bytes.
            shares = before is not None and _in_one_frame(before, fact)
            if not shares:
                channels.clear()
                if fact.start < self._place:
                    raise self._unfit(self._out_of_place(fact, received))
            if not self._came(fact):
                raise self._unfit(f"raw {_raw(fact)}, which is not what came from {fact.start} on")
            if isinstance(fact, Reading):
                if fact.channel in channels:
                    raise self._unfit(f"two readings of channel {fact.channel!r} of one frame")
                channels.add(fact.channel)
                if not fact.raw:
                    if fact.start != self._samples_end:
                        raise self._unfit("a reading of no bytes that follows on no samples")
                    self._samples_end = -1
            elif isinstance(fact, Samples):
                self._samples_end = fact.end
            self._place = fact.end
            before = fact
        self._forget()
        return given

    def rest(self) -> tuple[int, bytes]:
        """What came behind all facts of calls that went well, and where that begins in the stream.

        Of a very long stretch its end.
        """
        start = max(self._given_to, self._kept_from)
        return start, bytes(self._kept[start - self._kept_from :])

    def bytes(self, given: object, call: str) -> bytes:
        """What one call gives to be sent. Raises `DriverError` if that is no bytes."""
        if type(given) is not bytes:
            raise self._unfit(f"{shown(given)} from {call}, where bytes belong")
        return given

    def again(self, given: object) -> Instant | None:
        """When `due` wants to be asked again. Raises `DriverError` if that is no moment."""
        if given is None:
            return None
        if not is_instant(given):
            raise self._unfit(f"{shown(given)} from due, where an Instant belongs")
        assert isinstance(given, Instant)
        return given

    def _misfit_here(self, fact: Fact, received: int, at: Instant) -> str:
        """Why a fact that is sound by itself is none of this connection."""
        if fact.end > received:
            return self._out_of_place(fact, received)
        if fact.at is not at and not self._was(fact.at):
            return f"at = {shown(fact.at)}, a moment it was never given"
        if isinstance(fact, Samples) and len(fact.counts) > COUNT_BYTES * (fact.end - fact.start):
            return f"{len(fact.counts) // COUNT_BYTES} samples of {fact.end - fact.start} bytes"
        if not isinstance(fact, Reading | Spectrum | Samples):
            return ""
        if self._quantity is not None and fact.quantity is not self._quantity:
            return f"{fact.quantity.value} of an instrument for {self._quantity.value}"
        return ""

    def _out_of_place(self, fact: Fact, received: int) -> str:
        return (
            f"{OUT_OF_PLACE}{fact.start} to {fact.end}, after {self._place} and within {received} "
            "received bytes"
        )

    def _came(self, fact: Fact) -> bool:
        """Whether the bytes that a fact carries are those that were received there."""
        if isinstance(fact, Samples) or not fact.raw:
            return True
        at = fact.start - self._kept_from
        return at >= 0 and self._kept[at : at + len(fact.raw)] == fact.raw

    def _forget(self) -> None:
        """Let go of the bytes that facts have been made of, and of what nobody used for long."""
        self._given_to = self._place
        keep_from = max(self._place, self._kept_from + len(self._kept) - MOST_KEPT_BYTES)
        if keep_from > self._kept_from:
            del self._kept[: keep_from - self._kept_from]
            self._kept_from = keep_from

    def _was(self, at: Instant) -> bool:
        """Whether it lies within the connection, on both clocks as they stood to each other."""
        apart_ns = at.utc_ns - at.mono_ns
        least_ns = self._least_apart_ns - _CLOCKS_APART_NS
        most_ns = self._most_apart_ns + _CLOCKS_APART_NS
        return (
            self._opened.mono_ns <= at.mono_ns <= self._latest_mono_ns
            and least_ns <= apart_ns <= most_ns
        )

    def _unfit(self, got: str) -> DriverError:
        return DriverError(
            f"the driver {self._name} gave what no driver may give",
            got=got,
            next_step=f"report this to whoever wrote the driver {self._name}",
        )


def _raw(fact: Fact) -> str:
    return "" if isinstance(fact, Samples) else shown(fact.raw)


def _in_one_frame(before: Fact, fact: Fact) -> bool:
    return (
        isinstance(before, Reading | Spectrum)
        and isinstance(fact, Reading)
        and bool(fact.raw)
        and (before.start, before.end) == (fact.start, fact.end)
    )
