"""Trials beside their runs: keeping a plan, its key, opening it, closing. The desk's thread."""

from __future__ import annotations

from acquire.errors import NotFound, Refused
from acquire.model import Instant, Plan
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.plan_keeping import kept_plan
from acquire.pipeline.target_list import no_trial
from acquire.settings import parse_plan
from acquire.store.rows import Row
from acquire.store.work_rows import KeyOpeningRow, TrialClosingRow, TrialKeyRow
from acquire.trial.key import digest_of, packed, products_of, unpacked
from acquire.visible import says_something

SHOWN = "shown"


class TrialActs:
    """What a person asks of a whole trial."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def keep(self, plan: Plan, key: str, at: Instant) -> Answer:
        """Store a plan before its first run, and the key that a blind one was dealt by."""
        desk = self._desk
        rows: list[Row] = []
        if plan.is_blind and desk.shelf.worked.key(plan.key_digest) is None:
            _require_key(plan, key)
            rows.append(
                TrialKeyRow(
                    desk.ids.take(TrialKeyRow), at.utc_ns, plan.id, plan.key_digest, packed(key)
                )
            )
        elif key and digest_of(key) != plan.key_digest:
            raise _unfit(plan, "a key with another digest", "the key that the plan was sealed with")
        more, _ = kept_plan(desk, plan, desk.shelf.trial(plan.id), at)
        return Answer({"trial": plan.id, "is_new": bool(more)}, [*more, *rows])

    def open_key(self, trial: str, how: str, who: str, why: str, at: Instant) -> Answer:
        """Tell which product each code is, and write down to whom and why.

        `shown` tells one person, who puts the products on; `unsealed` tells everybody, and the
        reports name the products from then on.
        """
        desk = self._desk
        plan, key = self._sealed(trial)
        if not says_something(who):
            raise Refused(
                f"the key of {trial} stays sealed",
                reason="nobody named",
                got="no name",
                wanted="who is told, since that is recorded",
                next_step=f'name the person: {"--to" if how == SHOWN else "--by"} "NAME"',
            )
        was_unsealed = desk.shelf.worked.is_unsealed(key.digest)
        _, products = products_of(unpacked(key.sealed, key.digest))
        row = KeyOpeningRow(desk.ids.take(KeyOpeningRow), at.utc_ns, key.id, how, who, why)
        names = {t.id: products[t.id] for t in plan.treatments if t.id in products}
        reply: dict[str, object] = {"products": names, "was_unsealed": was_unsealed}
        return Answer(reply, [row])

    def close(self, trial: str, is_closed: bool, why: str, at: Instant) -> Answer:
        """Close a trial, so that nothing of it is due any more, or open it again."""
        desk = self._desk
        if desk.shelf.trial(trial) is None:
            raise no_trial(desk, trial)
        if desk.shelf.worked.is_closed(trial) == is_closed:
            raise Refused(
                f"trial {trial} is {'closed' if is_closed else 'open'} already",
                reason="as it is",
                next_step="coatbench trial show",
            )
        if is_closed and (run := desk.run) is not None and run.plan.id == trial:
            raise Refused(
                f"trial {trial} cannot be closed",
                reason="run open",
                got=f"run {run.id} open",
                next_step="finish it: coatbench run --finish",
            )
        row = TrialClosingRow(desk.ids.take(TrialClosingRow), at.utc_ns, trial, int(is_closed), why)
        return Answer({"trial": trial, "is_closed": is_closed}, [row])

    def _sealed(self, trial: str) -> tuple[Plan, TrialKeyRow]:
        desk = self._desk
        stored = desk.shelf.trial(trial)
        if stored is None:
            raise no_trial(desk, trial)
        plan = parse_plan(stored.text, f"trial {trial} as stored")
        key = desk.shelf.worked.key(plan.key_digest) if plan.is_blind else None
        if key is None:
            raise NotFound(
                f"trial {trial} has no key",
                got="a plan that names its products",
                wanted="a plan made with coatbench trial new --blind",
                next_step=f"coatbench trial show {trial}",
            )
        return plan, key


def _require_key(plan: Plan, key: str) -> None:
    """A blind plan comes with the key it was sealed with, which names each of its products."""
    if not key:
        raise _unfit(plan, "no key", "the key, which coatbench trial new seals with the plan")
    if digest_of(key) != plan.key_digest:
        raise _unfit(plan, "a key with another digest", "the key that the plan was sealed with")
    try:
        trial, products = products_of(key)
    except ValueError:
        trial, products = "", {}
    codes = {t.id for t in plan.treatments if not t.is_control}
    if trial != plan.id or set(products) != codes:
        raise _unfit(plan, "a key of other codes", f"a key for {', '.join(sorted(codes))}")


def _unfit(plan: Plan, got: str, wanted: str) -> Refused:
    return Refused(
        f"the blind trial {plan.id} is not kept",
        reason="no key",
        got=got,
        wanted=wanted,
        next_step="plan it with coatbench trial new --blind; a digest cannot be written by hand",
    )
