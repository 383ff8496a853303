"""Points and past results on their way into the store. The desk's thread.

Points are reckoned by whoever asks for them, out of what the store has, and never here: a score is
no reading, opens no gate, and can be reckoned again from the rows that it names. A scorecard is
kept as it was first used; under its id and version there is never another text.
"""

from __future__ import annotations

import hashlib
import json

from acquire.errors import Misuse, Refused
from acquire.model import Instant
from acquire.model.scorecard import Scorecard
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.target_list import no_trial
from acquire.store.rows import Row
from acquire.store.work_rows import PastImportRow, PastResultRow, ScorecardRow, ScoreRow
from acquire.trial.past import PastResult


class ScoreActs:
    """What a person asks of scorecards and of results of earlier years."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def keep(
        self, card: Scorecard, trial: str, edition: str, rests_on: str, points: str, at: Instant
    ) -> Answer:
        """Keep the points of a trial by a scorecard, and the scorecard where it is new."""
        desk = self._desk
        if desk.shelf.trial(trial) is None:
            raise no_trial(desk, trial)
        _require_own(card, trial, points)
        known = desk.shelf.worked.scorecards(card.id)
        _require_fit(card, known)
        rows: list[Row] = []
        kept = next((k for k in known if k.version == card.version), None)
        if kept is None:
            kept = ScorecardRow(
                desk.ids.take(ScorecardRow), at.utc_ns, card.id, card.version, card.text,
                card.digest,
            )  # fmt: skip
            rows.append(kept)
        last = next((s for s in desk.shelf.worked.scores(kept.id) if s.trial == trial), None)
        new = (edition, rests_on, points)
        is_new = last is None or (last.edition, last.rests_on, last.points_json) != new
        if is_new:
            rows.append(ScoreRow(desk.ids.take(ScoreRow), at.utc_ns, trial, kept.id, *new))
        return Answer({"trial": trial, "scorecard": card.name, "is_new": is_new}, rows)

    def import_past(
        self, name: str, data: bytes, mapping: str, results: tuple[PastResult, ...], at: Instant
    ) -> Answer:
        """Keep a file of past results whole, with every figure in it: imported and unchecked."""
        desk = self._desk
        digest = hashlib.sha256(data).hexdigest()
        before = desk.shelf.worked.past_import(digest)
        if before is not None:
            raise Refused(
                f"{name} is not imported again",
                reason="imported before",
                got=f"the file that was imported as {before.name}, byte for byte",
                wanted="a file that the store does not have",
                next_step="coatbench alltime shows what was imported",
            )
        one = PastImportRow(desk.ids.take(PastImportRow), at.utc_ns, name, digest, mapping, data)
        rows: list[Row] = [one]
        rows += [
            PastResultRow(
                desk.ids.take(PastResultRow), one.id, r.line, r.trial, r.treatment, r.figure,
                r.quantity, r.channel, r.stage, r.value, r.unit, r.expanded_uncertainty,
                json.dumps(dict(r.conditions), ensure_ascii=False, sort_keys=True),
            )
            for r in results
        ]  # fmt: skip
        return Answer({"import_id": one.id, "results": len(results), "sha256": digest}, rows)


def _require_own(card: Scorecard, trial: str, points: str) -> None:
    """Points that name another trial or scorecard than the call does are a fault of the caller."""
    try:
        told = json.loads(points)
        own = (told["trial"], told["scorecard"], told["version"], told["digest"])
    except (ValueError, TypeError, KeyError):
        own = None
    if own != (trial, card.id, card.version, card.digest):
        raise Misuse(
            f"the points of {trial} are not kept",
            got="points that name another trial or scorecard, or none",
            wanted=f"those of {trial} by {card.name}",
            next_step=f"coatbench rescore {trial} --scorecard FILE",
        )


def _require_fit(card: Scorecard, known: list[ScorecardRow]) -> None:
    """One text under an id and version, and a changed text only under a higher version."""
    if any(k.digest == card.digest for k in known):
        return
    highest = max((k.version for k in known), default=0)
    if card.version > highest:
        return
    same = any(k.version == card.version for k in known)
    raise Refused(
        f"no points are kept by {card.name}",
        reason="version in use",
        got=f"another text than the one that points were kept by as version {card.version}"
        if same
        else f"version {card.version} of a text that is new, after version {highest}",
        wanted="the same text, or a higher version for a changed one",
        next_step=f"write version = {highest + 1} into the scorecard and try again",
    )
