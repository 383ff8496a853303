"""Asking for a check: begin one, abandon one. Runs on the desk's thread."""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from acquire.errors import Refused
from acquire.model import TOLD_BY_PERSON, IncidentKind, Instant, Notice, NoticeKind, policy_text
from acquire.pipeline.asking import Answer, require_ready, sit_down, standing_of
from acquire.pipeline.behind import require_clock
from acquire.pipeline.checking import Checking
from acquire.pipeline.desk import Desk
from acquire.pipeline.notices import notice_rows
from acquire.pipeline.standing import Standing
from acquire.store import rows as r
from acquire.store.check_rows import CheckBeginRow


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
        require_clock(instrument, at, desk.keeper.told, desk.keeper.clock_jump_ns)
        policy = standing.spec.policy
        reason, got = desk.keeper.judging.unusable_certificate(standing, at)
        if reason:
            raise Refused(
                f"{instrument} cannot be checked",
                reason=reason,
                got=got,
                wanted="valid certificates for every piece",
                next_step="enter a valid certificate of each in bench.toml, after having it "
                "certified anew if need be, or set the computer's clock right",
            )
        self._require_warm(standing, at)
        self._require_climate(standing, at)
        rows, opened = sit_down(self._desk, at)
        assert desk.sitting_id is not None
        check_id = desk.ids.take(CheckBeginRow)
        standing.limits_changed = ()
        standing.checking = Checking(check_id, instrument, standing.serial, policy)
        rows.append(
            CheckBeginRow(
                check_id,
                at.utc_ns,
                instrument,
                standing.serial,
                policy.quantity.value,
                ",".join(policy.channels),
                desk.sitting_id,
                policy.id,
                policy_text(policy),
                desk.ids.last(r.ReadingRow),
            )
        )
        steps = [{"piece": rule.piece, "readings": rule.readings} for rule in policy.rules]
        return Answer({"check_id": check_id, "steps": steps, **opened}, rows)

    def _require_warm(self, standing: Standing, at: Instant) -> None:
        """An instrument that is still warming up would be checked as it is not when it is used."""
        name, wanted_s = standing.spec.id, standing.spec.policy.warm_up_s
        if standing.on_since is None or wanted_s <= 0:
            return
        left_s = wanted_s - at.seconds_since(standing.on_since)
        if left_s > 0:
            on = timedelta(seconds=round(wanted_s - left_s))
            raise Refused(
                f"{name} is warming up",
                reason="warming up",
                got=f"on for {on} (h:mm:ss)",
                wanted=f"{timedelta(seconds=wanted_s)}, as its policy says",
                next_step=f"wait {timedelta(seconds=ceil(left_s))} more, then coatbench check "
                f"{name}; coatbench study {name} --warm-up finds out how long it takes",
            )

    def _require_climate(self, standing: Standing, at: Instant) -> None:
        rule, name = standing.spec.policy.ambient, standing.spec.id
        if rule is None:
            return
        climate = self._desk.keeper.climate
        if lack := climate.lack(rule, at):
            raise Refused(
                f"{name} cannot be checked",
                reason="climate not known",
                got=lack,
                wanted="the temperature of the room, and its humidity where the policy asks for it",
                next_step="coatbench climate 21.4 --humidity 48 (what your thermometer shows), "
                f"then coatbench check {name}",
            )
        if (fault := climate.fault(rule, None)) is not None:
            raise Refused(
                f"{name} cannot be checked",
                reason=str(fault[0]),
                got=fault[1],
                wanted="a room as the policy has it",
                next_step="bring the room there, enter it (coatbench climate), then "
                f"coatbench check {name}",
            )

    def readjusted(self, instrument: str, at: Instant) -> Answer:
        """A person has re-adjusted a meter that does not tell so by itself.

        What was checked before says nothing of it now. As found is the last check before this,
        as left the next one.
        """
        standing = standing_of(self._desk, instrument)
        require_ready(standing, "re-adjustment")
        notice = Notice(NoticeKind.ADJUSTED, at, b"", 0, 0, TOLD_BY_PERSON)
        desk = self._desk
        assert standing.connection_id is not None
        rows = notice_rows(desk.keeper, desk.ids, standing, standing.connection_id, notice)
        return Answer({"readjusted": True}, rows)

    def insist(self, instrument: str, piece: str, at: Instant) -> Answer:
        """A person says that the meter is on the wanted piece, however far from it it reads.

        Its presses count from now on. That it was said is kept, and told with the check.
        """
        standing = standing_of(self._desk, instrument)
        checking = standing.checking
        wanted = None if checking is None else checking.rule
        if checking is None or wanted is None or wanted.piece != piece:
            raise Refused(
                f"{instrument} is asked to be on no such piece now",
                reason="no such piece now",
                got=repr(piece),
                wanted="the piece that the check is at: " + (wanted.piece if wanted else "none"),
                next_step=f"coatbench check {instrument} names the piece",
            )
        if piece in checking.insisted:
            return Answer({"insisted": piece, "presses": wanted.readings}, [])
        checking.insisted.add(piece)
        said = (
            f"a person says that {instrument} is on {piece} in check {checking.check_id}, whatever "
            "it reads: its presses count from here on"
        )
        row = self._desk.keeper.incident(instrument, IncidentKind.PIECE_INSISTED, at, said)
        return Answer({"insisted": piece, "presses": wanted.readings}, [row])

    def abandon(self, instrument: str, at: Instant) -> Answer:
        """Break a check off. With readings in it, it ends the pass it was to renew."""
        standing = standing_of(self._desk, instrument)
        if standing.checking is None:
            raise Refused(
                f"no check of {instrument} is under way",
                reason="no check under way",
                next_step=f"begin one: coatbench check {instrument}",
            )
        # Where nothing was read, the pass that it was to renew goes on, if it had not ended before.
        holds = standing.passed is not None and standing.ending is None
        left = holds and not standing.checking.has_readings
        rows = self._desk.keeper.abandon_check(
            standing,
            at,
            "by the person at the bench",
            "nothing, the pass before it goes on" if left else "",
        )
        return Answer({"abandoned": True}, rows)
