"""A desk with one rule of the gate taken out, each in its turn: the walk must find every one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from acquire.model import EndReason, GateVerdict, Instant, Outcome, Pass
from acquire.pipeline.desk import Desk
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.judging import Judging
from acquire.pipeline.standing import Standing
from acquire.store.rows import Row
from tests.gate.world import Sabotage


def _with(make: Callable[[Desk], Gatekeeper]) -> Sabotage:
    def sabotage(desk: Desk) -> None:
        desk.keeper = make(desk)

    return sabotage


def _kept(kind: type[Gatekeeper]) -> Sabotage:
    return _with(lambda desk: kind(desk.bench, desk.standings, desk.shelf.passes, desk.ids))


def blind_to(reason: EndReason) -> Sabotage:
    """A gatekeeper that ends no pass for this reason."""

    class Blind(Gatekeeper):
        def end_pass(
            self,
            standing: Standing,
            reason_: EndReason,
            at: Instant,
            message: str,
            after_reading: int | None = None,
        ) -> list[Row]:
            if reason_ is reason:
                return []
            return super().end_pass(standing, reason_, at, message, after_reading)

    return _kept(Blind)


class _Late(Gatekeeper):
    """Looks at idleness and the room only at a tick."""

    def run_out(
        self, standing: Standing, at: Instant, after_reading: int | None = None
    ) -> list[Row]:
        return [] if after_reading is not None else super().run_out(standing, at)


class _Keeps(Gatekeeper):
    """A check that is broken off leaves the pass that it was to renew."""

    def abandon_check(
        self, standing: Standing, at: Instant, why: str, next_step: str = ""
    ) -> list[Row]:
        checking = standing.checking
        if checking is None:
            return []
        standing.checking = None
        return self.broken_off(checking, at, why, next_step=next_step)[1]


class _Endless(Judging):
    """A pass has no time."""

    def expiry(self, standing: Standing, at: Instant) -> Instant:
        return at.later(10 * 24 * 3600.0)


def _endless(desk: Desk) -> None:
    endless = _Endless(desk.bench, desk.ids, desk.keeper.told)
    endless.registered = desk.keeper.judging.registered
    desk.keeper.judging = endless


class _ForgivesFailure(Gatekeeper):
    """After a check that did not pass, the one before goes on."""

    def judge(self, standing: Standing, at: Instant) -> list[Row]:
        before, ending = standing.passed, standing.ending
        rows = super().judge(standing, at)
        if standing.judged is not None and standing.judged.outcome is not Outcome.PASS:
            standing.passed, standing.ending = before, ending
            return [row for row in rows if type(row).__name__ != "PassEndRow"]
        return rows


def _asks(change: Callable[[Pass], Pass]) -> Sabotage:
    """A gatekeeper that asks the gate of a pass with more room than it has."""

    class Generous(Gatekeeper):
        def ask_gate(
            self,
            standing: Standing,
            channels: frozenset[str],
            at: Instant,
            value: Decimal | None = None,
            *,
            is_mate: bool = False,
        ) -> GateVerdict:
            own = standing.passed
            if own is not None:
                standing.passed = change(own)
            try:
                return super().ask_gate(standing, channels, at, value, is_mate=is_mate)
            finally:
                standing.passed = own

    return _with(lambda desk: Generous(desk.bench, desk.standings, desk.shelf.passes, desk.ids))


class _TakesAnyByHand(Gatekeeper):
    """A reading of the past needs no pass that goes on as it came."""

    def ask_gate_of_the_past(
        self,
        instrument: str,
        serial: str,
        channel: str,
        at: Instant,
        reading_id: int,
        value: Decimal | None,
    ) -> GateVerdict:
        passed, _ = self._passes.covering(instrument, serial, reading_id)
        return GateVerdict(None if passed is None else passed.check_id)


class _CountsNoHands(Gatekeeper):
    """A reading that a person assigns is no press of the pass."""

    def assigned(self, check_id: int, reading_id: int) -> None:
        return


def _bent(desk: Desk) -> None:
    """No check is held to a straight line."""
    for standing in desk.standings.values():
        spec = replace(standing.spec, policy=replace(standing.spec.policy, linearity_limit=None))
        standing.spec = spec


def _cold(desk: Desk) -> None:
    """A check begins before the meter is warm."""
    for standing in desk.standings.values():
        standing.spec = replace(standing.spec, policy=replace(standing.spec.policy, warm_up_s=0.0))


def _any_room(desk: Desk) -> None:
    """A check begins in any room, and none ends a pass."""
    for standing in desk.standings.values():
        standing.spec = replace(standing.spec, policy=replace(standing.spec.policy, ambient=None))


SABOTAGES: dict[str, tuple[str, Sabotage]] = {
    **{
        f"blind to {reason}": (policy, blind_to(reason))
        for reason, policy in {
            EndReason.UNPLUGGED: "plain",
            EndReason.SWITCHED_OFF: "plain",
            EndReason.OTHER_SERIAL: "plain",
            EndReason.CLOCK_JUMPED: "plain",
            EndReason.ADJUSTED: "plain",
            EndReason.GAP: "plain",
            EndReason.IDLE: "idle",
            EndReason.SITTING_CLOSED: "sitting",
            EndReason.TEMPERATURE: "room",
            EndReason.HUMIDITY: "room",
            EndReason.CLIMATE_UNKNOWN: "room",
            EndReason.FAILED_CHECK: "plain",
        }.items()
    },
    "idle only at a tick": ("idle", _kept(_Late)),
    "the room only at a tick": ("room", _kept(_Late)),
    "a broken check leaves the pass": ("plain", _kept(_Keeps)),
    "a failed check leaves the pass": ("plain", _kept(_ForgivesFailure)),
    "a pass without end": ("short", _endless),
    "a pass of all values": ("range", _asks(lambda own: replace(own, span=None))),
    "a pass of all presses": ("presses", _asks(lambda own: replace(own, presses=None))),
    "any reading by hand": ("short", _kept(_TakesAnyByHand)),
    "hands count no presses": ("presses", _kept(_CountsNoHands)),
    "no line": ("straight", _bent),
    "no warm-up": ("warm-up", _cold),
    "any room": ("room", _any_room),
}
"""By name: the policy under which it matters, and what is done to the desk."""
