"""What a check comes to, by the certificates in use at its moment, and until when a pass may hold.

Judges by the pure functions of `acquire.calibration` and gives the rows of it. It opens and ends
nothing; the desk's thread.
"""

from __future__ import annotations

from collections.abc import Mapping

from acquire.calibration import judge, judge_broken_off
from acquire.model import Bench, Instant, Judgement, Pass, Piece
from acquire.model.verdict import ABANDONED
from acquire.pipeline.certified import CertificateIds, certificates_of, end_ns, fault_on, numbers_of
from acquire.pipeline.checking import Checking
from acquire.pipeline.ids import Ids
from acquire.pipeline.judged_rows import judged_rows
from acquire.pipeline.standing import Standing
from acquire.pipeline.told_time import ToldTime
from acquire.pipeline.used import used
from acquire.store.rows import Row


class Judging:
    """Checks of every instrument of the bench. `told` has the latest time that a clock told."""

    def __init__(self, bench: Bench, ids: Ids, told: ToldTime) -> None:
        self._bench = bench
        self._ids = ids
        self._told = told
        self.registered: dict[tuple[str, str, str, str], int] = {}
        """Numbers of certificates that may be used, by piece, quantity, channel, day of issue."""

    def certain(self, at: Instant) -> Instant:
        """This moment, or the latest one that a clock ever told if that is later."""
        return at._replace(utc_ns=max(at.utc_ns, self._told.latest_ns))

    def pieces(self, at: Instant) -> dict[str, Piece]:
        """The pieces of the bench with the certificates that are in use at a moment."""
        return {p.id: p.on(self.certain(at).utc().date()) for p in self._bench.pieces}

    def unusable_certificate(self, standing: Standing, at: Instant) -> tuple[str, str]:
        """Reason and finding where a check would rely on a certificate that is not valid now."""
        relied_on = certificates_of(standing.spec.policy, self.pieces(at).values())
        return fault_on(relied_on, self.certain(at).utc().date())

    def expiry(self, standing: Standing, at: Instant) -> Instant:
        """When a pass of this moment is over by its time or by a certificate."""
        left_ns = round(standing.spec.policy.valid_for_s * 1e9)
        due_ns = end_ns(certificates_of(standing.spec.policy, self.pieces(at).values()))
        if due_ns is not None:
            left_ns = min(left_ns, due_ns - self.certain(at).utc_ns)
        return Instant(at.utc_ns + left_ns, at.mono_ns + left_ns)

    def whole(self, checking: Checking, at: Instant) -> Judgement:
        """What a check says that came to its end."""
        return judge(
            checking.instrument,
            checking.policy,
            self.pieces(at),
            checking.readings,
            self.certain(at).utc().date(),
        )

    def broken_off(
        self,
        checking: Checking,
        at: Instant,
        why: str,
        pieces: Mapping[str, Piece] | None = None,
        next_step: str = "",
    ) -> Judgement:
        """What one says that did not; `pieces` are those it was read against, where others."""
        return judge_broken_off(
            checking.policy,
            self.pieces(at) if pieces is None else pieces,
            checking.readings,
            checking.found,
            self.certain(at).utc().date(),
            why,
            next_step or f"coatbench check {checking.instrument}",
        )

    def rows(
        self,
        checking: Checking,
        judgement: Judgement,
        at: Instant,
        passed: Pass | None = None,
        pieces: Mapping[str, Piece] | None = None,
        certificate_ids: CertificateIds | None = None,
    ) -> list[Row]:
        """The rows of a judgement, with what it was made of."""
        against = self.pieces(at) if pieces is None else pieces
        ids = (
            numbers_of(against.values(), self.registered)
            if certificate_ids is None
            else certificate_ids
        )
        made_of = used(
            checking.policy,
            self.certain(at).utc().date(),
            checking.used,
            against,
            ids,
            is_broken_off=judgement.message.startswith(ABANDONED),
        )
        return judged_rows(
            self._ids, checking.check_id, checking.policy, judgement, at, made_of, passed, ids
        )
