"""Every error Coatbench raises on purpose, in one tree.

    CoatbenchError
    ├── Misuse                   somebody asked for what cannot be had; nothing is broken
    │   ├── SettingsError        a file a person wrote has faults (all of them are listed)
    │   ├── Refused              a call is understood and not allowed now (the gate, the state)
    │   └── NotFound             a name that is not there (trial, reading, instrument, piece)
    └── Misfortune               the world did not play along
        ├── LinkError
        │   ├── LinkUnavailable  could not be opened: absent, no permission, in use
        │   └── LinkLost         was open and is gone
        ├── DriverError          a plug-in is missing, unfit, or failed on its input
        ├── StoreError
        │   ├── StoreUnwritable  full disk, read-only file: acquisition must stop
        │   └── StoreInUse       another daemon records into this store
        └── ControlError         the daemon cannot be reached, or the token is not its own

An error carries four parts, since every fault shown to the person at the bench has them:
what happened, what was got, what was wanted, and the next step. ``str(error)`` joins them.
This module imports nothing and may be imported from anywhere, drivers included.
"""

from __future__ import annotations

from typing import NamedTuple


class CoatbenchError(Exception):
    """Base of the tree. ``what`` is a whole phrase; the other three parts may be empty."""

    def __init__(self, what: str, *, got: str = "", wanted: str = "", next_step: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.got = got
        self.wanted = wanted
        self.next_step = next_step

    def __str__(self) -> str:
        middle = ", ".join(
            part
            for part in (
                f"got {self.got}" if self.got else "",
                f"wanted {self.wanted}" if self.wanted else "",
            )
            if part
        )
        text = f"{self.what}: {middle}" if middle else self.what
        return f"{text}. Next: {self.next_step}" if self.next_step else text


class Misuse(CoatbenchError):
    """Somebody asked for what cannot be had; the bench is sound."""


class Fault(NamedTuple):
    """One fault of a file a person wrote. ``path`` is a dotted path such as ``zone[2].id``."""

    path: str
    got: str
    wanted: str

    def __str__(self) -> str:
        return f"{self.path}: got {self.got}, wanted {self.wanted}"


class SettingsError(Misuse):
    """A file with faults: all of them at once, in the order of the file."""

    def __init__(self, source: str, faults: list[Fault], *, next_step: str = "") -> None:
        count = "one fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(
            f"{source} has {count}", next_step=next_step or f"mend {source} and try again"
        )
        self.source = source
        self.faults = faults

    def __str__(self) -> str:
        lines = [
            f"{self.what}:",
            *(f"  {fault}" for fault in self.faults),
            f"Next: {self.next_step}",
        ]
        return "\n".join(lines)


class Refused(Misuse):
    """Understood, and not allowed now. ``reason`` is a short stable word for programs."""

    def __init__(
        self, what: str, *, reason: str, got: str = "", wanted: str = "", next_step: str = ""
    ) -> None:
        super().__init__(what, got=got, wanted=wanted, next_step=next_step)
        self.reason = reason


class NotFound(Misuse):
    """A name that is not there; ``wanted`` lists what is."""


class Misfortune(CoatbenchError):
    """The world did not play along."""


class LinkError(Misfortune):
    """Base of what can go wrong with a serial, USB or network connection."""


class LinkUnavailable(LinkError):
    """The link could not be opened."""


class LinkLost(LinkError):
    """The link was open and is gone."""


class DriverError(Misfortune):
    """A driver plug-in is missing, does not fit the interface, or failed on its input."""


class StoreError(Misfortune):
    """Base of what can go wrong with the store."""


class StoreUnwritable(StoreError):
    """A row could not be committed: acquisition must stop, for nothing may go unrecorded."""


class StoreInUse(StoreError):
    """Another daemon records into this store."""


class ControlError(Misfortune):
    """The daemon cannot be reached, does not answer, or refuses the token."""


def told(error: BaseException, most_characters: int = 2000) -> str:
    """What an exception says, whoever raised it: bounded, and fit to be stored.

    Its own words may raise, run to megabytes or hold half characters.
    """
    try:
        text = str(error) if isinstance(error, CoatbenchError) else repr(error)
        text = text.encode("utf-8", "backslashreplace").decode()
    except BaseException:  # even SystemExit out of __repr__
        text = f"{type(error).__name__[:80]}, which cannot be shown"
    return text if len(text) <= most_characters else f"{text[:most_characters]}..."
