"""What a person at the bench can ask for, and whether it is allowed now.

Every act runs on the desk's thread, between batches, and gives an answer and the rows to store.
An act that is not allowed raises `Refused` with the reason, the figures and the next step. There
is no act that lets a reading count without the gate.
"""

from __future__ import annotations

from acquire.errors import NotFound, Refused
from acquire.model import EndReason, Instant
from acquire.model.clap import CLAP_MARK, is_like_clap
from acquire.pipeline.application_acts import ApplicationActs
from acquire.pipeline.asking import Answer
from acquire.pipeline.check_acts import CheckActs
from acquire.pipeline.climate_acts import ClimateActs
from acquire.pipeline.clock_acts import ClockActs
from acquire.pipeline.counter_acts import CounterActs
from acquire.pipeline.desk import Desk
from acquire.pipeline.giving_up_acts import GivingUpActs
from acquire.pipeline.outlook import Outlook
from acquire.pipeline.photo_acts import PhotoActs
from acquire.pipeline.rating_acts import RatingActs
from acquire.pipeline.reading_acts import ReadingActs
from acquire.pipeline.run_acts import RunActs
from acquire.pipeline.score_acts import ScoreActs
from acquire.pipeline.status import status
from acquire.pipeline.suspects import LatestSuspects
from acquire.pipeline.target_list import no_trial
from acquire.pipeline.trial_acts import TrialActs
from acquire.pipeline.wash_acts import WashActs
from acquire.settings import parse_plan
from acquire.store import rows as r
from acquire.store.rows import Row
from acquire.visible import says_something


class Acts:
    """The acts of a person on one desk: checks, runs, readings, and the sitting itself."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.checks = CheckActs(desk)
        self.runs = RunActs(desk)
        self.readings = ReadingActs(desk)
        self.climate = ClimateActs(desk)
        self.clock = ClockActs(desk)
        self.trials = TrialActs(desk)
        self.giving_up = GivingUpActs(desk)
        self.scores = ScoreActs(desk)
        self.applications = ApplicationActs(desk)
        self.washes = WashActs(desk)
        self.counters = CounterActs(desk, self.washes)
        self.ratings = RatingActs(desk)
        self.photos = PhotoActs(desk)
        self._suspects = LatestSuspects(desk)
        self._outlook = Outlook(desk)

    def status(self, at: Instant) -> Answer:
        """How the bench stands."""
        found = {**status(self._desk, at), "suspects": self._suspects.told()}
        return Answer({**found, **self._outlook.told()}, [])

    def connection(self, instrument: str) -> Answer:
        """The number of the connection that an instrument has now; None without one."""
        desk = self._desk
        probe = desk.probes.standings.get(instrument)
        found = desk.standings[instrument] if probe is None else probe
        return Answer({"connection_id": found.connection_id}, [])

    def note(self, text: str, trial: str, stage: str, at: Instant) -> Answer:
        """Keep a remark with the sitting; `trial` and `stage` may be empty."""
        desk = self._desk
        if not says_something(text):
            raise Refused(
                "the remark is not kept",
                reason="no remark",
                got="a text in which nothing is to be seen",
                wanted="what is to be remembered",
                next_step='say it in quotes: coatbench note "sun came round onto the panel"',
            )
        if is_like_clap(text):
            raise Refused(
                "the remark is not kept",
                reason="no remark",
                got="a text that reads as a clap mark, which only its own command makes",
                wanted="what is to be remembered",
                next_step="coatbench note --clap makes a clap mark now",
            )
        if trial:
            self._require_stage(trial, stage)
        elif stage:
            raise Refused(
                "the remark is not kept",
                reason="no trial",
                got=f"stage {stage!r} of no trial",
                next_step="name its trial, too: --trial TRIAL",
            )
        row = r.NoteRow(desk.ids.take(r.NoteRow), at.utc_ns, desk.sitting_id, trial, stage, text)
        return Answer({"note_id": row.id}, [row])

    def clap(self, trial: str, at: Instant) -> Answer:
        """Mark this moment for a film; `trial` may be empty. Answers with its number and moment."""
        desk = self._desk
        if trial:
            self._require_stage(trial, "")
        row = r.NoteRow(desk.ids.take(r.NoteRow), at.utc_ns, desk.sitting_id, trial, "", CLAP_MARK)
        return Answer({"note_id": row.id, "at_utc_ns": at.utc_ns}, [row])

    def _require_stage(self, trial: str, stage: str) -> None:
        """A trial that has a run, and a stage of its plan where one is named."""
        stored = self._desk.shelf.trial(trial)
        if stored is None:
            raise no_trial(self._desk, trial)
        stages = parse_plan(stored.text, f"trial {trial} as stored").stages
        if stage and stage not in stages:
            raise NotFound(
                f"trial {trial} has no such stage",
                got=repr(stage),
                wanted=", ".join(stages),
                next_step="name one of these",
            )

    def close_sitting(self, at: Instant) -> Answer:
        """End the sitting. An open run and a check under way must be finished first."""
        desk = self._desk
        if desk.run is not None:
            raise Refused(
                "the sitting cannot be closed",
                reason="run open",
                got=f"run {desk.run.id} open",
                next_step="finish it: coatbench run --finish",
            )
        checked = [name for name, one in desk.standings.items() if one.checking is not None]
        if checked:
            # Its pass would be of no sitting, and end with none.
            raise Refused(
                "the sitting cannot be closed",
                reason="check under way",
                got=f"a check of {', '.join(checked)} under way",
                next_step=f"go on with it, or coatbench check {checked[0]} --abandon",
            )
        if desk.sitting_id is None:
            raise Refused(
                "no sitting is open", reason="no sitting", next_step="a check or a run opens one"
            )
        row = r.SittingEndRow(
            desk.ids.take(r.SittingEndRow), at.utc_ns, desk.sitting_id, "closed at the bench"
        )
        desk.sitting_id = None
        rows: list[Row] = [row]
        for standing in desk.standings.values():
            if standing.spec.policy.ends_with_sitting:
                name = standing.spec.id
                why = f"the sitting is closed; {name} is checked anew in the next one"
                rows += desk.keeper.end_pass(standing, EndReason.SITTING_CLOSED, at, why)
        return Answer({"sitting_id": row.sitting_id}, rows)
