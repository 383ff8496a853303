"""Asking for a check: begin one, abandon one. Runs on the desk's thread."""

from __future__ import annotations

import json
from dataclasses import asdict

from acquire.errors import Refused
from acquire.model import Instant
from acquire.pipeline.asking import Answer, require_ready, sit_down, standing_of
from acquire.pipeline.checking import Checking
from acquire.pipeline.desk import Desk
from acquire.store import rows as r


class CheckActs:
    """Checks as a person asks for them."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def begin(self, instrument: str, at: Instant) -> Answer:
        """Begin a check: from now on the instrument's readings are of its reference pieces."""
        desk = self._desk
        standing = standing_of(self._desk, instrument)
        require_ready(standing, "check")
        if standing.checking is not None:
            rule = standing.checking.rule
            next_piece = rule.piece if rule else "none"
            raise Refused(
                f"a check of {instrument} is under way",
                reason="check under way",
                got=f"piece {next_piece} next",
                next_step=f"go on with it, or coatbench check {instrument} --abandon",
            )
        policy = standing.spec.policy
        reason, got = desk.keeper.unusable_certificate(standing, at)
        if reason:
            raise Refused(
                f"{instrument} cannot be checked",
                reason=reason,
                got=got,
                wanted="valid certificates for every piece",
                next_step="enter a valid certificate of the piece in bench.toml, after having it "
                "certified anew if need be, or set the computer's clock right",
            )
        rows, opened = sit_down(self._desk, at)
        assert desk.sitting_id is not None
        check_id = desk.ids.take(r.CheckBeginRow)
        standing.checking = Checking(check_id, instrument, standing.serial, policy)
        rows.append(
            r.CheckBeginRow(
                check_id,
                at.utc_ns,
                instrument,
                standing.serial,
                policy.quantity.value,
                ",".join(policy.channels),
                desk.sitting_id,
                policy.id,
                json.dumps(asdict(policy), default=str, sort_keys=True),
                desk.ids.last(r.ReadingRow),
            )
        )
        steps = [{"piece": rule.piece, "readings": rule.readings} for rule in policy.rules]
        return Answer({"check_id": check_id, "steps": steps, **opened}, rows)

    def abandon(self, instrument: str, at: Instant) -> Answer:
        """Break a check off. With readings in it, it ends the pass it was to renew."""
        standing = standing_of(self._desk, instrument)
        if standing.checking is None:
            raise Refused(
                f"no check of {instrument} is under way",
                reason="no check under way",
                next_step=f"begin one: coatbench check {instrument}",
            )
        rows = self._desk.keeper.abandon_check(standing, at, "by the person at the bench")
        return Answer({"abandoned": True}, rows)
