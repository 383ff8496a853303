"""Whether another program has an instrument's port open as well, and takes what it sends.

Looked for at a connection, when the line breaks and when presses are missing, since a look at all
processes takes its time; whether one that was found is there still is quick to see. The session's
thread, or that of a lesson, but for `words`.
"""

from __future__ import annotations

from collections.abc import Mapping
from os import getpid
from typing import NamedTuple, Protocol

from acquire.errors import LinkLost
from acquire.link.users import has_far_end, is_user, users_of
from acquire.model import Instant

LEAST_BETWEEN_S = 10.0
"""Presses may be missing again and again; so often is looked at most."""


class Users(Protocol):
    """Who has a port open: in words, by process; and whether one of them has it still."""

    def found(self, where: str) -> Mapping[int, str]: ...

    def has(self, process: int, where: str) -> bool: ...


class SystemUsers:
    """Those that the system tells of, but for this program and what is plugged in itself."""

    def found(self, where: str) -> Mapping[int, str]:
        # What is no path is a place on a bus or in the network, where others are kept away.
        users = users_of(where, but=getpid()) if where.startswith("/") else {}
        return {pid: name for pid, name in users.items() if not has_far_end(pid, where)}

    def has(self, process: int, where: str) -> bool:
        return is_user(process, where)


class _Found(NamedTuple):
    where: str
    users: Mapping[int, str]


_NOBODY = _Found("", {})


class Sharing:
    """Who else has the port of one instrument open."""

    def __init__(self, users: Users) -> None:
        self._users = users
        self._found = _NOBODY
        self._told: frozenset[int] = frozenset()
        self._looked: Instant | None = None

    def look(self, where: str) -> str:
        """Look, and say who is found; empty where nobody is, or where they were told of before."""
        users = {
            process: name
            for process, name in self._users.found(where).items()
            if self._users.has(process, where)
        }
        self._found = _Found(where, users)
        told, self._told = self._told, frozenset(users)
        return "" if self._told <= told else self.words

    def look_again(self, where: str, now: Instant) -> str:
        """As `look`, since presses are missing; not so soon after it was done for that before."""
        if self._looked is not None and now.seconds_since(self._looked) < LEAST_BETWEEN_S:
            return ""
        self._looked = now
        return self.look(where)

    def broken(self, lost: LinkLost, where: str) -> str:
        """Why a line broke: in its own words, or that somebody else reads there."""
        self.look(where)
        if not (who := self.who):
            return str(lost)
        return str(
            LinkLost(
                f"the line {where} broke, for another program reads what comes on it",
                got=f"{who} with it open",
                next_step=f"{to_end(who)}; then it is opened again by itself",
            )
        )

    @property
    def words(self) -> str:
        """Who has it open still, and what to do; empty where nobody has. Any thread."""
        if not (who := self.who):
            return ""
        return (
            f"another program has {self._found.where} open as well, so that bytes of the meter may "
            f"never come here: got {who}. Next: {to_end(who)}, and press again what did not come"
        )

    @property
    def who(self) -> str:
        """Those that have it open still, by name and process; empty where nobody has."""
        where, users = self._found
        return ", ".join(name for process, name in users.items() if self._users.has(process, where))


def to_end(who: str) -> str:
    """What is to be done about those."""
    return "end those programs" if ", " in who else "end that program"
