"""What is left to do after runs: readings that no check has closed, places that are open again.

The store derives both (the view `brackets`), which takes a moment in a store of years; so it is
asked when something happened that can change it, and not at every status. Runs on the desk's
thread; changes nothing.
"""

from __future__ import annotations

from acquire.pipeline.asking import measure_of
from acquire.pipeline.desk import Desk
from acquire.pipeline.wanted import gone_zones
from acquire.settings import parse_plan
from acquire.store import rows as r
from acquire.store.check_rows import CheckJudgementRow
from acquire.store.work_rows import ApplicationRow, ApplicationVoidRow, GivingUpRow, WashRow

_CHANGES = (
    CheckJudgementRow,
    r.RunRow,
    r.RunEndRow,
    r.VoidRow,
    r.AssignmentRow,
    r.NoticeRow,
    ApplicationRow,
    ApplicationVoidRow,
    WashRow,
    GivingUpRow,
)
"""Kinds of rows after which another answer is possible; readings alone wait for a run's end."""


class Outlook:
    """Unclosed readings and reopened places, by stage of a trial, the latest first."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._seen: tuple[int, ...] = ()
        self._found: dict[str, object] = {}

    def told(self) -> dict[str, object]:
        """``unclosed`` and ``reopened``, as the status has them.

        Nothing of the run that is open or interrupted: its end says what is left of it.
        """
        seen = tuple(self._desk.ids.last(kind) for kind in _CHANGES)
        if seen != self._seen:
            self._seen = seen
            self._found = {"unclosed": self._unclosed(), "reopened": self._reopened()}
        return self._found

    def _unclosed(self) -> list[dict[str, object]]:
        desk = self._desk
        if desk.run is not None or desk.interrupted is not None:
            return []
        return [stage._asdict() for stage in desk.shelf.aftermath.unclosed()]

    def _reopened(self) -> list[dict[str, object]]:
        """Stages of which a check made readings suspect, and what is open of them now."""
        desk = self._desk
        told: list[dict[str, object]] = []
        if desk.run is not None or desk.interrupted is not None:
            return told
        for stage in desk.shelf.aftermath.suspect_stages():
            stored = desk.shelf.trial(stage.trial)
            assert stored is not None  # the view joins it
            plan = parse_plan(stored.text, f"trial {stage.trial} as stored")
            measure = measure_of(plan, stage.measure)
            course = desk.chart(plan, measure, stage.stage, measure.channels)
            left = course.slots_left
            if left and (gone := gone_zones(desk.shelf, plan, stage.stage)):
                places = [t for g in measure.channels for t in course.open_targets(g)]
                left = sum(t.zone not in gone for t in places)
            if left:
                # A kept trial is run by its id, too, where its file is not known.
                source = desk.sources.get(stage.trial) or stage.trial
                told.append({**stage._asdict(), "readings": left, "source": source})
        return told
