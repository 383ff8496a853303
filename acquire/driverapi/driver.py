"""The two things a plug-in provides: a family, and a driver for one connection.

A driver is a pure machine: bytes and instants in, facts and bytes out. It is used by one thread
at a time and lives as long as one connection; after a lost link a new one is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple, Protocol, runtime_checkable

from acquire.driverapi.needs import Needs
from acquire.model import Fact, Instant


class Due(NamedTuple):
    """Bytes to send now (empty for none), and the moment to ask again (None: never)."""

    send: bytes
    again: Instant | None


@runtime_checkable
class Driver(Protocol):
    """One connection's protocol machine."""

    def opening(self, at: Instant) -> bytes:
        """Bytes to send once, when the connection has just been opened; may be empty."""
        ...

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """Take received bytes, in any chunks, and give the facts they complete, in order.

        Never raises on content: what is not understood becomes `Noise`. Memory is bounded: an
        endless line becomes noise piece by piece.
        """
        ...

    def due(self, now: Instant) -> Due:
        """What is to be sent now by the protocol itself (polling), and when to ask again.

        Also the place where waiting bytes become noise when their time is up; those facts come
        with the next `feed` or `lost`.
        """
        ...

    def take(self, at: Instant) -> bytes:
        """Bytes that make the device take a reading now; empty if only its button can.

        A driver that was not opened says by them whether it could be asked at all; they are not
        sent. One that must wait gives none, and has `due` give them when it can.
        """
        ...

    def lost(self, at: Instant) -> list[Fact]:
        """The link is gone: give what the rest of the bytes amounts to (noise), and forget them.

        How many bytes came is not forgotten: places in the stream (`start`, `end`) are counted from
        the opening of the connection on, and go on whatever is fed after `lost`.
        """
        ...


@runtime_checkable
class Family(Protocol):
    """A family of wire protocols: what an entry point of group ``acquire.drivers`` names.

    `api` is the version of this interface the plug-in was written for (now 1). A family may say
    in `reaches` what its devices are reached by, for the list of what is plugged in: ``serial``
    (also if it says nothing), or ``usb`` with class and subclass of an interface (``usb fe/03``).
    One whose bytes mean something only as answers to what was sent says ``is_asked = True``, for
    the conformance kit, which then never feeds an answer that was not asked for.
    """

    @property
    def name(self) -> str: ...

    @property
    def api(self) -> int: ...

    def needs(self, profile: Mapping[str, object], source: str) -> Needs:
        """The line settings, or the USB interface, of a device with this profile.

        Raises `SettingsError` naming every fault of the profile.
        """
        ...

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A new driver for one connection. `source` names the profile in messages.

        Raises `SettingsError` naming every fault of the profile.
        """
        ...
