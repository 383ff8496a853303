"""The steps that make and renew a store, in their order. Any thread.

The library that applies them is loaded only then: whoever reads asks for their names alone, and to
load it takes a tenth of what a whole command of results does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from acquire.store.database import Database, Migrations

Step = Callable[["Database"], None]


class Steps:
    """Functions of a database, each known by its name. Used as a decorator, ``@STEPS()``."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._steps: list[Step] = []

    def __call__(self) -> Callable[[Step], Step]:
        def added(step: Step) -> Step:
            self._steps.append(step)
            return step

        return added

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(step.__name__ for step in self._steps)

    def apply(self, db: Database, *, stop_before: str | None = None) -> None:
        """Those that the database lacks, each whole or not at all; raises `sqlite3.Error`."""
        self._migrations.apply(db, stop_before=stop_before)

    def applied(self, db: Database) -> Iterator[str]:
        """The names of those that the database has, in their order, others among them."""
        return (one.name for one in self._migrations.applied(db))

    @property
    def _migrations(self) -> Migrations:
        from acquire.store.database import Migrations  # noqa: PLC0415 - slow

        found = Migrations(self.name)
        for step in self._steps:
            found()(step)
        return found
