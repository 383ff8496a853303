"""A tape played again through the driver and profile of then, held against what was made of it.

Where bytes went unrecorded nothing can be compared: facts that touch such a place are told apart.
Stores nothing. One thread.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from acquire.driverapi import Driver, UsbNeeds
from acquire.driverapi.registry import Registry
from acquire.errors import NotFound
from acquire.link.kept import Kept
from acquire.link.tape import Made, Passed, Tape, Whose
from acquire.model import Instant
from acquire.pipeline.failing import FAILED, FAILED_BEFORE
from acquire.report.replay.comparing import END, Comparing, Comparison, Stretch, Tail
from acquire.report.replay.made import NOISE
from acquire.report.replay.player import Player
from acquire.schema import parse_toml

Reach = Callable[[Instant], None]
"""Waits until a moment of the tape has come; at full speed it has."""


class Cast(NamedTuple):
    """A driver as it was then. `filler` stands where bytes are missing."""

    name: str
    driver: Driver
    filler: bytes


@dataclass(slots=True)
class Replayed:
    """What came of playing a tape: how the facts of now compare with those of then.

    Facts are compared while they are made, and let go.

    `holes` are the stretches of the received bytes where nothing can be compared, `strayed` counts
    how often the driver would send something else now, `failed` is why it did not come to the end.
    `tail` is where a tape stops whose end nobody wrote down.
    """

    tape: Tape
    comparing: Comparing = field(init=False)
    holes: list[Stretch] = field(default_factory=list)
    strayed: int = 0
    first_stray: Passed | None = None
    failed: str = ""
    tail: Tail | None = None
    _comparison: Comparison | None = None

    def __post_init__(self) -> None:
        made = self.tape.made
        self.comparing = Comparing(
            made if isinstance(made, Kept) else sorted(made, key=lambda one: one.end)
        )

    @property
    def failed_now(self) -> bool:
        """The driver failed, and did not that day."""
        return bool(self.failed) and not any(
            m.what == NOISE and dict(m.says).get("reason") in (FAILED, FAILED_BEFORE)
            for m in self.tape.made
        )

    @property
    def gaps(self) -> list[Stretch]:
        """Where bytes are missing, but for what may be missing behind the last."""
        return [hole for hole in self.holes if hole.end < END]

    def comparison(self) -> Comparison:
        """Then against now."""
        if self._comparison is None:
            self._comparison = self.comparing.done(self.holes, self.tail)
        return self._comparison


def cast(whose: Whose | None, registry: Registry | None = None) -> Cast:
    """The driver of a tape. Raises `NotFound`, `DriverError` and `SettingsError`."""
    if whose is None:
        raise NotFound(
            "nobody knows which driver heard this tape",
            got="no instrument on it",
            wanted="instrument, driver and profile of then",
            next_step="cut it from its store: coatbench tape cut N --out FILE; one of a lesson is "
            "there to learn from: coatbench learn --tape FILE",
        )
    source = f"profile {whose.profile} as it was then"
    family = (registry or Registry()).family(whose.driver)
    profile = parse_toml(whose.profile_text, source)
    # Records of transfers stand by themselves; a line is ended by whatever ends one.
    filler = b"" if isinstance(family.needs(profile, source), UsbNeeds) else b"\0\r\n"
    return Cast(whose.driver, family.driver(profile, source), filler)


def played(
    tape: Tape,
    cast: Cast,
    reach: Reach | None = None,
    heard: Callable[[Made], object] | None = None,
    *,
    is_whole: bool = True,
    done: Replayed | None = None,
) -> Replayed:
    """Play a tape to its end; `heard` is told of every fact as it is made.

    `done` is filled as it goes on, for whoever breaks it off. `is_whole` False: the tape breaks off
    behind its last bytes, and nobody knows what was made of them.
    """
    done = Replayed(tape) if done is None else done
    player = Player(tape, cast.driver, cast.name, cast.filler, reach or _at_once, is_whole=is_whole)
    for made in player.play():
        done.comparing.add(made)
        done.comparing.settle(min(made.end, player.chunk_at), player.holes)
        if heard is not None:
            heard(made)
    done.holes, done.failed, done.tail = player.holes, player.failed, player.tail
    done.strayed, done.first_stray = player.strayed, player.first_stray
    return done


def _at_once(at: Instant) -> None:
    """Full speed."""
