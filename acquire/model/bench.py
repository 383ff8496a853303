"""The bench as described in ``bench.toml``: instruments, links, pieces, policies, store."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from acquire.model.certificate import Piece
from acquire.model.fact import Quantity
from acquire.model.policy import CheckPolicy

TYPED_BY_HAND = "typed by hand"
"""What the link of an instrument without a port is called wherever a port would be named."""


def opened_words(opened_as: str) -> str:
    """``connected as /dev/ttyUSB0``, or that there is no port to be connected to."""
    if opened_as == TYPED_BY_HAND:
        return "without a port, typed by hand"
    return f"connected as {opened_as}"


@dataclass(frozen=True, slots=True)
class LinkAddress:
    """How an instrument is found: exactly one of the four is set.

    `identity` finds a serial port by what is plugged in (keys ``serial_number``, ``vid``,
    ``pid``), so that the port's name may change; `port` is a device path, best a stable one;
    `url` is a pySerial URL such as ``socket://127.0.0.1:4001``; `typed` means that there is no
    port, and a person types what the instrument shows.
    """

    identity: Mapping[str, str] | None = None
    port: str | None = None
    url: str | None = None
    typed: bool = False

    def __str__(self) -> str:
        if self.identity is not None:
            return "device with " + ", ".join(f"{k} {v}" for k, v in self.identity.items())
        if self.typed:
            return TYPED_BY_HAND
        return self.port or self.url or "nowhere"


@dataclass(frozen=True, slots=True)
class InstrumentSpec:
    """One instrument of the bench.

    `serial` is the serial number of the instrument itself, by which its checks are known;
    `profile` is the parsed profile table, `profile_text` the file it came from, as written.
    """

    id: str
    kind: Quantity
    serial: str
    driver: str
    profile_name: str
    profile: Mapping[str, object]
    profile_text: str
    address: LinkAddress
    policy: CheckPolicy


@dataclass(frozen=True, slots=True)
class ProbeSpec:
    """An instrument that measures no surface: a wash counter or a climate probe.

    It has no check policy, since no reading of it can count as a measure; the gate never sees it.
    The rest is that of `InstrumentSpec`.
    """

    id: str
    kind: Quantity
    serial: str
    driver: str
    profile_name: str
    profile: Mapping[str, object]
    profile_text: str
    address: LinkAddress


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything ``bench.toml`` says, with the files it names read in."""

    name: str
    store: Path
    control_host: str
    control_port: int
    instruments: tuple[InstrumentSpec, ...]
    pieces: tuple[Piece, ...]
    due_soon_days: int = 30
    """So many days before the end of a certificate it is told that its renewal is due."""
    probes: tuple[ProbeSpec, ...] = ()
    """Beside the instruments that measure."""

    @property
    def connected(self) -> tuple[InstrumentSpec | ProbeSpec, ...]:
        """Everything that has a link: what measures, then the probes."""
        return (*self.instruments, *self.probes)

    def instrument(self, instrument_id: str) -> InstrumentSpec | None:
        return next((i for i in self.instruments if i.id == instrument_id), None)

    def piece(self, piece_id: str) -> Piece | None:
        return next((p for p in self.pieces if p.id == piece_id), None)
