"""What goes wrong at the bench, as facts to be stored: gaps and incidents."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from acquire.model.instant import Instant


@dataclass(frozen=True, slots=True)
class Gap:
    """Bytes that arrived and could not be recorded because the recorder did not keep up.

    Between `since` and `until`, `lost_bytes` bytes of the instrument went unrecorded.
    """

    instrument: str
    since: Instant
    until: Instant
    lost_bytes: int


class IncidentKind(StrEnum):
    """What kind of trouble."""

    LINK_UNAVAILABLE = "link unavailable"
    LINK_LOST = "link lost"
    LINK_SHARED = "link shared"
    DRIVER_FAILED = "driver failed"
    DRIVER_HANGS = "driver hangs"
    NOT_UNDERSTOOD = "messages not understood"
    CLOCK_JUMPED = "clock jumped"
    CLOCK_TRUSTED = "clock said to be right"
    OTHER_SERIAL = "other serial number"
    OTHER_PIECE = "other reference piece"
    PIECE_INSISTED = "piece insisted on"
    RUN_REFUSED = "run refused"
    COUNTER = "wash counter"
    CLIMATE_PROBE = "climate probe"
    STORE = "store"


@dataclass(frozen=True, slots=True)
class Incident:
    """One trouble, in words with the next step. `instrument` is empty where it is the bench's."""

    instrument: str
    kind: IncidentKind
    at: Instant
    message: str
