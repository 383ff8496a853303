"""What a device is to be asked next. Pure; one thread.

First comes setting up, then what the status byte leads to, then the status byte again, then a
reading that somebody told it to take, then the poll that is due. How often anything is tried is
counted here, so that no device, however broken, keeps the bus busy for ever.
"""

from __future__ import annotations

from collections import deque
from enum import IntEnum, auto

from acquire.model import Instant
from drivers.usbtmc.profile import AskedGrid, UsbtmcProfile

TRIES = 3
MOST_ROUNDS = 16
"""So often the status byte is read in a row while it says that something is there."""


class Asked(IntEnum):
    """What is being asked, or waits to be."""

    # Numbers: they are looked up with every transfer, and an enumeration's own hash is slow.

    IDENTITY = auto()
    START = auto()
    GRID = auto()
    DARK = auto()
    OPEN = auto()
    STATUS = auto()
    ERROR = auto()
    ADJUSTED = auto()
    FETCH = auto()
    TAKE = auto()
    POLL = auto()


_SETTING_UP = (Asked.IDENTITY, Asked.GRID, Asked.DARK, Asked.OPEN)
"""What is asked again at once where no answer came: what follows rests on it."""


class Agenda:
    """That of one connection."""

    def __init__(self, profile: UsbtmcProfile) -> None:
        self._profile = profile
        grid = profile.grid
        self._commands = {
            Asked.IDENTITY: profile.identify,
            Asked.GRID: grid.command if isinstance(grid, AskedGrid) else b"",
            Asked.DARK: profile.beam.dark if profile.beam else b"",
            Asked.OPEN: profile.beam.open if profile.beam else b"",
            Asked.ERROR: profile.error,
            Asked.ADJUSTED: profile.adjusted,
            Asked.FETCH: profile.fetch,
            Asked.TAKE: profile.take,
        }
        self._to_do: deque[tuple[Asked, bytes]] = deque()
        self._wanted: set[Asked] = set()
        self._tries: dict[Asked, int] = {}
        self._wants_status = False
        self._rounds = 0
        self._set_ups_left = TRIES
        self._polled_at: Instant | None = None
        self.is_set_up = False
        """Whether the device is as the profile wants it, as far as it tells."""
        self.is_over = False
        """Whether nothing more is to be asked of it."""

    # -- setting up ------------------------------------------------------------------------------

    def begin(self) -> None:
        """Ask who is there, how it is to behave, at which wavelengths it measures."""
        self._to_do.clear()
        self._tries |= dict.fromkeys(_SETTING_UP, TRIES - 1)
        if self._profile.identify:
            self._to_do.append((Asked.IDENTITY, self._profile.identify))
        self._to_do.extend((Asked.START, command) for command in self._profile.start)
        if self._commands[Asked.GRID]:
            self._to_do.append((Asked.GRID, self._commands[Asked.GRID]))
        self.learn_beam()
        self.want_status()
        self.is_set_up = False

    def begin_again(self) -> bool:
        """Set it up once more, since a command was not taken; False if that was tried enough."""
        # Setting up may clear the bit that says so, but the result is there.
        self._wanted &= {Asked.FETCH, Asked.TAKE}
        self._set_ups_left -= 1
        if self._set_ups_left > 0:
            self.begin()
            return True
        self.stop()
        return False

    def ready(self) -> None:
        """It has been set up, and has nothing against it."""
        self.is_set_up = True
        self._set_ups_left = TRIES

    def stop(self) -> None:
        """Ask nothing more."""
        self.is_over = True
        self._to_do.clear()
        self._wanted.clear()
        self._wants_status = False

    # -- wishes ----------------------------------------------------------------------------------

    def want(self, asked: Asked, tries: int = 1) -> None:
        """Ask this, and again as long as `again` is called and tries are left."""
        if not self.is_over:
            self._wanted.add(asked)
            self._tries[asked] = tries - 1

    def want_status(self) -> None:
        """Read the status byte, if the profile has one."""
        self._wants_status = self._profile.status is not None and not self.is_over

    def look_anew(self) -> None:
        """The device spoke up, or its poll is due: it may be looked at though it kept us busy."""
        self._rounds = min(self._rounds, MOST_ROUNDS - 1)
        self.want_status()

    def again(self, asked: Asked) -> bool:
        """Ask the same once more, if tries are left."""
        if self.is_over or self._tries.get(asked, 0) <= 0:
            return False
        self._tries[asked] -= 1
        if asked in _SETTING_UP:
            self._to_do.appendleft((asked, self._commands[asked]))
        else:
            self._wanted.add(asked)
        return True

    def ask_name(self) -> None:
        """Ask once more who is there, since nobody could tell so far."""
        if self._profile.identify and not self.is_over:
            self._to_do.append((Asked.IDENTITY, self._profile.identify))

    def learn_grid(self) -> None:
        """Ask for the wavelengths, which nobody could tell so far."""
        if self._commands[Asked.GRID]:
            self._tries[Asked.GRID] = 1
            self.again(Asked.GRID)

    def learn_beam(self) -> None:
        """Ask for the dark and the open beam, which are others from now on."""
        for asked in (Asked.DARK, Asked.OPEN):
            if self._commands[asked] and not self.is_over:
                self._tries[asked] = TRIES - 1
                self._to_do.append((asked, self._commands[asked]))

    def round(self, wanted: dict[Asked, int]) -> bool:
        """What the status byte asks for, each with its tries; False if it has asked too often."""
        if not wanted:
            self._rounds = 0
            return True
        self._rounds += 1
        if self._rounds <= MOST_ROUNDS:
            for asked, tries in wanted.items():
                self.want(asked, tries)
        if self._rounds < MOST_ROUNDS:
            self.want_status()
        return self._rounds < MOST_ROUNDS

    # -- what is next ----------------------------------------------------------------------------

    @property
    def is_free(self) -> bool:
        """Whether a reading may be taken at once, as far as this goes."""
        return self.is_set_up and not self._to_do and not self.is_over

    @property
    def poll_at(self) -> Instant | None:
        """When the next poll is due: so long after the answer to the last one."""
        poll, at = self._profile.poll, self._polled_at
        if poll is None or at is None or self.is_over:
            return None
        return Instant(at.utc_ns + poll.every_ns, at.mono_ns + poll.every_ns)

    def polled(self, at: Instant) -> None:
        """A poll was answered, or given up."""
        self._polled_at = at

    def next(self, now: Instant) -> tuple[Asked, bytes] | None:
        """What is to be asked now, and its command; it is no longer on the agenda."""
        if self._to_do:
            return self._to_do.popleft()
        if self._profile.status is None and not self.is_over:
            # It has no error queue to say otherwise.
            self.is_set_up = True
        order = [Asked.ERROR, Asked.ADJUSTED, *([Asked.FETCH] if self.is_set_up else [])]
        for asked in order:
            if asked in self._wanted:
                return self._take(asked)
        poll = self._profile.poll
        due = self.poll_at
        is_due = poll is not None and not self.is_over
        is_due = is_due and (due is None or now.mono_ns >= due.mono_ns)
        if is_due and poll is not None and not poll.command and not self._wants_status:
            self.look_anew()
        if self._wants_status:
            self._wants_status = False
            return Asked.STATUS, b""
        if Asked.TAKE in self._wanted and self.is_set_up:
            return self._take(Asked.TAKE)
        return (Asked.POLL, poll.command) if is_due and poll is not None else None

    def _take(self, asked: Asked) -> tuple[Asked, bytes]:
        self._wanted.discard(asked)
        return asked, self._commands[asked]
