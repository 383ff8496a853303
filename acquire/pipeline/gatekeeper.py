"""The gatekeeper: checks and passes, what opens one and everything that ends it.

The only caller of the gate. Works on the standings that the desk holds, in the desk's thread;
gives rows to be stored and does no I/O but the shelf's look-ups.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal

from acquire.calibration import Request, gate
from acquire.model import (
    Bench,
    Ending,
    EndReason,
    GateVerdict,
    IncidentKind,
    Instant,
    Judgement,
    Outcome,
    Pass,
    Piece,
)
from acquire.pipeline.behind import clock_behind
from acquire.pipeline.certified import CertificateIds
from acquire.pipeline.checking import Checking
from acquire.pipeline.climate import Climate
from acquire.pipeline.ids import Ids
from acquire.pipeline.judging import Judging
from acquire.pipeline.lapses import lapsed
from acquire.pipeline.nearness import refused_words
from acquire.pipeline.press import other_presses
from acquire.pipeline.standing import Standing
from acquire.pipeline.told_time import ToldTime
from acquire.pipeline.unsettled import Unsettled
from acquire.store import rows as r
from acquire.store.check_rows import PassEndRow
from acquire.store.passes import Passes
from acquire.store.rows import Row


class Gatekeeper:
    """Passes of every instrument of the bench."""

    def __init__(
        self, bench: Bench, standings: Mapping[str, Standing], passes: Passes, ids: Ids
    ) -> None:
        self._standings = standings
        self._passes = passes
        self._ids = ids
        self.unsettled = Unsettled()
        self.told = ToldTime()
        self.judging = Judging(bench, ids, self.told)
        self.climate = Climate()
        self._clock_offset_ns: int | None = None
        # Everything that the last answer of the gate was made of, and that answer.
        self._asked: tuple[object, ...] = ()
        self._answer = GateVerdict(None)
        self.clock_jump_ns = round(
            min((i.policy.clock_jump_s for i in bench.instruments), default=2.0) * 1e9
        )

    # -- the gate and what ends a pass -----------------------------------------------------------

    def ask_gate(
        self,
        standing: Standing,
        channels: frozenset[str],
        at: Instant,
        value: Decimal | None = None,
        *,
        is_mate: bool = False,
    ) -> GateVerdict:
        """Ask the gate for this instrument as it stands, or for a reading of it.

        `is_mate`: an earlier reading of its press has been counted among those of the pass.
        """
        ending, passed = standing.ending, standing.passed
        if passed is None or passed.span is None:
            value = None
        taken = standing.used - is_mate
        asked = (
            at, channels, standing.serial, standing.spec.id,
            passed, ending, standing.judged, value, taken,
        )  # fmt: skip
        if asked == self._asked:
            # The readings of one chunk came at one moment: the same question has the same answer.
            return self._answer
        if ending is not None and at.utc_ns < ending.at.utc_ns:
            # What has ended has ended, whatever moment a driver stamps on what comes after.
            at = Instant(ending.at.utc_ns, at.mono_ns)
        self._answer = self._gate(
            Request(standing.spec.id, standing.serial, channels, at, value, taken),
            passed,
            ending,
            standing.judged,
        )
        self._asked = asked
        return self._answer

    def ask_gate_of_the_past(
        self,
        instrument: str,
        serial: str,
        channel: str,
        at: Instant,
        reading_id: int,
        value: Decimal | None,
    ) -> GateVerdict:
        """Ask the gate for a reading of the past, from what the store holds of that moment."""
        passed, ending = self._passes.covering(instrument, serial, reading_id)
        taken = 0
        if passed is not None and passed.presses is not None:
            # Those that came later, too: together they may not be more than the pass lasts.
            under = self._passes.taken_under(passed.check_id, reading_id)
            taken = other_presses(under, reading_id)
        request = Request(instrument, serial, frozenset((channel,)), at, value, taken)
        return self._gate(request, passed, ending, None)

    def assigned(self, check_id: int, reading_id: int) -> None:
        """A reading of the past goes into a run under a pass: it counts among its presses."""
        for standing in self._standings.values():
            passed = standing.passed
            if passed is not None and passed.check_id == check_id and passed.presses is not None:
                under = self._passes.taken_under(check_id, reading_id)
                standing.used = other_presses(under, reading_id) + 1

    @staticmethod
    def _gate(
        request: Request, passed: Pass | None, ending: Ending | None, judged: Judgement | None
    ) -> GateVerdict:
        """The one call of the gate in the whole program."""
        return gate(request, passed, ending, judged)

    def end_pass(
        self,
        standing: Standing,
        reason: EndReason,
        at: Instant,
        message: str,
        after_reading: int | None = None,
    ) -> list[Row]:
        """End the instrument's pass if it has one that has not ended.

        It covers readings up to `after_reading`, by default the last one there is.
        """
        passed = standing.passed
        if passed is None or (standing.ending and standing.ending.check_id == passed.check_id):
            return []
        standing.ending = Ending(passed.check_id, reason, at, message)
        return [
            PassEndRow(
                self._ids.take(PassEndRow),
                at.utc_ns,
                passed.check_id,
                reason.value,
                message,
                self._ids.last(r.ReadingRow) if after_reading is None else after_reading,
            )
        ]

    def end_used_up(
        self, standing: Standing, at: Instant, verdict: GateVerdict, after_reading: int
    ) -> list[Row]:
        """The gate has said that a pass was used up: it ends behind its last press."""
        return self.end_pass(standing, EndReason.USED_UP, at, verdict.message, after_reading)

    def tick(self, now: Instant) -> list[Row]:
        """Let time tell: passes that are over end, a clock that jumped is noticed."""
        rows = self.watch_clock(now)
        for standing in self._standings.values():
            passed = standing.passed
            # By either clock: a wall clock that is set back again and again must not stretch it.
            if passed is not None and (
                now.utc_ns >= passed.expires.utc_ns or now.mono_ns >= passed.expires.mono_ns
            ):
                valid_ns = round(standing.spec.policy.valid_for_s * 1e9)
                by_certificate = passed.expires.utc_ns - passed.opened.utc_ns < valid_ns
                rows += self.end_pass(
                    standing,
                    EndReason.CERTIFICATE_DUE if by_certificate else EndReason.EXPIRED,
                    passed.expires,
                    f"the certificate of a reference piece of {standing.spec.id} ran out"
                    if by_certificate
                    else f"the check of {standing.spec.id} is older than "
                    f"{timedelta(seconds=standing.spec.policy.valid_for_s)} (h:mm:ss)",
                )
            else:
                rows += self.run_out(standing, now)
        return rows

    def run_out(
        self, standing: Standing, at: Instant, after_reading: int | None = None
    ) -> list[Row]:
        """End a pass that by its policy is over at a moment, be it long before the next tick."""
        policy = standing.spec.policy
        if standing.passed is None or (policy.idle_s is None and policy.ambient is None):
            return []
        over = lapsed(standing, self.climate, at)
        if over is None:
            return []
        reason, message, since = over
        return self.end_pass(standing, reason, since, message, after_reading)

    def watch_clock(self, now: Instant) -> list[Row]:
        """End every pass when the wall clock stepped against the monotonic one."""
        # A clock that creeps back in steps too small to notice makes no certificate valid again.
        self.told.tell(now.utc_ns)
        offset_ns = now.utc_ns - now.mono_ns
        before, self._clock_offset_ns = self._clock_offset_ns, offset_ns
        if before is None or abs(offset_ns - before) <= self.clock_jump_ns:
            return []
        step_s = (offset_ns - before) / 1e9
        message = (
            f"the computer's clock jumped by {step_s:+.1f} s (it was set, or the computer slept). "
            "Next: set it right and check the instruments again"
        )
        # What was overdue stays overdue: certificates go by the latest time that was ever told.
        self.told.tell(before + now.mono_ns)
        rows: list[Row] = [self.incident("", IncidentKind.CLOCK_JUMPED, now, message)]
        for standing in self._standings.values():
            rows += self.abandon_check(standing, now, "the clock jumped")
            rows += self.end_pass(
                standing,
                EndReason.CLOCK_JUMPED,
                # After a jump back, the old end would leave a stretch covered twice.
                Instant(min(now.utc_ns, before + now.mono_ns), now.mono_ns),
                message,
            )
        return rows

    # -- checks ----------------------------------------------------------------------------------

    def judge(self, standing: Standing, at: Instant) -> list[Row]:
        checking = standing.checking
        assert checking is not None
        standing.checking = None
        judgement = self.judging.whole(checking, at)
        standing.judged = judgement
        self.unsettled.checks.append(checking.check_id)
        passed: Pass | None = None
        name = standing.spec.id
        if judgement.outcome is Outcome.PASS:
            rows = self.end_pass(
                standing, EndReason.SUPERSEDED, at, f"{name} was checked again and passed"
            )
            passed = Pass(
                checking.check_id,
                name,
                checking.serial,
                frozenset(checking.policy.channels),
                at,
                self.judging.expiry(standing, at),
                checking.policy.span,
                checking.policy.valid_for_presses,
            )
            standing.open(passed, self.climate.latest)
        else:
            rows = self.end_pass(
                standing,
                EndReason.FAILED_CHECK,
                at,
                f"a later check of {name} did not pass: {judgement.message}",
            )
            standing.passed, standing.ending = None, None
        return [*rows, *self.judging.rows(checking, judgement, at, passed)]

    def abandon_check(
        self, standing: Standing, at: Instant, why: str, next_step: str = ""
    ) -> list[Row]:
        """End a check that is broken off; if it had readings, the pass ends too.

        Otherwise a check that goes badly could be broken off, and the old pass kept. For the same
        reason a piece that was found outside its limit makes the check a failed one. `next_step`
        is another check, unless something else is given.
        """
        checking = standing.checking
        if checking is None:
            return []
        standing.checking = None
        why += refused_words(checking)
        judgement, rows = self.broken_off(checking, at, why, next_step=next_step)
        if checking.has_readings:
            rows += self.end_pass(
                standing, EndReason.FAILED_CHECK, at, f"a check was begun and abandoned: {why}"
            )
            standing.passed, standing.ending, standing.judged = None, None, judgement
        return rows

    def broken_off(
        self,
        checking: Checking,
        at: Instant,
        why: str,
        pieces: Mapping[str, Piece] | None = None,
        next_step: str = "",
        certificate_ids: CertificateIds | None = None,
    ) -> tuple[Judgement, list[Row]]:
        """What a check that did not come to its end says, and the rows of that.

        `pieces` and `certificate_ids` are those it was read against, where that were others than
        the bench's now.
        """
        judgement = self.judging.broken_off(checking, at, why, pieces, next_step)
        self.unsettled.checks.append(checking.check_id)
        rows = self.judging.rows(checking, judgement, at, None, pieces, certificate_ids)
        return judgement, rows

    def clock_behind(self, now: Instant) -> str:
        """As `acquire.pipeline.behind.clock_behind`."""
        return clock_behind(now, self.told, self.clock_jump_ns)

    def readjusted(self, standing: Standing, notice_id: int, at: Instant) -> None:
        """A failed check no longer describes the meter, and none closes what was read before."""
        self.unsettled.notices.append(notice_id)
        if standing.judged is not None and standing.judged.outcome is not Outcome.PASS:
            standing.judged = None
            standing.ending = Ending(
                0,
                EndReason.ADJUSTED,
                at,
                f"{standing.spec.id} was re-adjusted and has not been checked since",
            )

    def whose(self, serial: str) -> str:
        """The instrument of the bench that has this serial number; empty if none has."""
        return next((s.spec.id for s in self._standings.values() if s.spec.serial == serial), "")

    def incident(
        self, instrument: str, kind: IncidentKind, at: Instant, message: str
    ) -> r.IncidentRow:
        """A trouble as a row."""
        return r.IncidentRow(
            self._ids.take(r.IncidentRow), at.utc_ns, instrument, kind.value, message
        )
