"""Looks into the store for what is over and still asks for something: checks and finished runs.

Read-only, on the writer's own connection, in its thread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from acquire.store.placed import STAGES

if TYPE_CHECKING:
    from acquire.store.queried import Queried


class StageReadings(NamedTuple):
    """A number of readings of a stage of a trial, taken with one instrument."""

    trial: str
    measure: str
    stage: str
    instrument: str
    readings: int


class LastCheck(NamedTuple):
    """What the latest check of an instrument came to."""

    instrument: str
    serial: str
    check_id: int
    outcome: str
    message: str
    next_step: str
    end_reason: str | None
    end_message: str | None


class Aftermath:
    """What runs and checks of the past have left."""

    def __init__(self, writer: Queried) -> None:
        self._writer = writer

    def unclosed(self) -> list[StageReadings]:
        """Readings that count and that no check has closed yet, the latest stages first."""
        return [StageReadings(*row) for row in self._writer.query(STAGES, ("open",))]

    def suspect_stages(self) -> list[StageReadings]:
        """Readings that a check made suspect, the latest stages first."""
        return [StageReadings(*row) for row in self._writer.query(STAGES, ("suspect",))]

    def last_checks(self) -> list[LastCheck]:
        """The latest judged check of every instrument that has one."""
        rows = self._writer.query(
            f"SELECT {', '.join(LastCheck._fields)} FROM checks WHERE check_id IN "  # noqa: S608
            "(SELECT max(c.id) FROM check_begin AS c "
            "JOIN check_judgement AS j ON j.check_id = c.id GROUP BY c.instrument)"
        )
        return [LastCheck(*row) for row in rows]

    def last_policy(self, serial: str, quantity: str) -> tuple[int, str] | None:
        """The last check of a meter and the policy that it followed, as text."""
        rows = self._writer.query(
            "SELECT id, policy_json FROM check_begin WHERE serial = ? AND quantity = ? "
            "ORDER BY id DESC LIMIT 1",
            (serial, quantity),
        )
        return (int(rows[0]["id"]), str(rows[0]["policy_json"])) if rows else None
