"""What one person still has to rate, and the keys by which it is rated. Pure.

A board has one of these: it knows the things in their order, takes a step as one key, and says what
is to be asked. A thing whose rating was asked for is not asked again before the daemon has said no.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from acquire.live.board import Ask, Prompt
from acquire.model import Plan, Scale
from acquire.store.work_rows import RatingRow
from acquire.trial.people import plain_name
from acquire.trial.ratings import Rateable, left_to, standing, thing_of

ONE_KEY = 9
"""Scales of so many steps are rated by one digit; of longer ones the number is typed."""


@dataclass(slots=True)
class RatingQueue:
    """`things` in the order in which they are rated by `rater`; `rows` are those stored so far."""

    plan: Plan
    rater: str
    things: Sequence[Rateable]
    rows: list[RatingRow] = field(default_factory=list)
    _asked: list[Rateable] = field(default_factory=list)
    _later: list[Rateable] = field(default_factory=list)
    _again: Rateable | None = None

    def hear(self, item: Mapping[str, Any]) -> None:
        """A stored row came."""
        if item.get("table") != "rating" or item["trial"] != self.plan.id:
            return
        row = RatingRow(*(item[name] for name in RatingRow._fields))
        self.rows.append(row)
        if plain_name(row.rater) == plain_name(self.rater):
            thing = thing_of(row)
            self._asked = [t for t in self._asked if t != thing]

    def denied(self) -> None:
        """The daemon said no: what was asked for is open again."""
        self._asked.clear()

    def left(self, among: Iterable[Rateable] | None = None) -> list[Rateable]:
        """What is still to be rated, what was put off at the end; of all, or `among` some."""
        found = [t for t in left_to(self.rater, self.things, self.rows) if t not in self._asked]
        if among is not None:
            wanted = set(among)
            found = [t for t in found if t in wanted]
        return sorted(found, key=lambda t: self._later.index(t) + 1 if t in self._later else 0)

    def current(self, among: Iterable[Rateable] | None = None) -> Rateable | None:
        """What is rated next: the thing that is rated again, else the first that is left."""
        if self._again is not None:
            return self._again
        return next(iter(self.left(among)), None)

    def scale(self, thing: Rateable) -> Scale:
        found = self.plan.scale(thing.scale)
        assert found is not None  # the things are made of the plan's scales
        return found

    def earlier(self, thing: Rateable) -> RatingRow | None:
        """This rater's rating of a thing that stands."""
        found = standing(self.rows)
        return next(
            (r for (who, t), r in found.items()
             if t == thing and plain_name(who) == plain_name(self.rater)),
            None,
        )  # fmt: skip

    # -- keys ------------------------------------------------------------------------------------

    def step_key(self, thing: Rateable, key: str) -> list[Ask] | Prompt | None:
        """What a digit does: rates the thing, or begins a longer number; None for other keys."""
        steps = len(self.scale(thing).steps)
        if len(key) != 1 or key not in "0123456789":
            return None
        if steps > ONE_KEY:
            return Prompt(f"step, 1 to {steps}", "step", thing, text=key)
        if not 1 <= int(key) <= steps:
            return []
        return self.rate(thing, int(key))

    def rate(self, thing: Rateable, step: int) -> list[Ask] | Prompt:
        """Ask for a rating; of a thing that is rated again the reason first."""
        before = self.earlier(thing)
        if before is not None:
            was, now = (self.scale(thing).words(s) for s in (before.step, step))
            question = f"why {now} and not {was}"
            return Prompt(question, "rate again", (thing, step))
        return [self._ask(thing, step, "")]

    def rate_again(self, thing: Rateable, step: int, reason: str) -> list[Ask]:
        """The reason for another rating was given."""
        self._again = None
        return [self._ask(thing, step, reason)] if reason else []

    def put_off(self, thing: Rateable) -> None:
        """Rate a thing after the others."""
        if self._again == thing:
            self._again = None
            return
        self._later = [t for t in self._later if t != thing] + [thing]

    def back(self) -> Rateable | None:
        """Rate the last thing of this rater once more; None where there is none."""
        mine = [
            thing_of(r)
            for r in self.rows
            if plain_name(r.rater) == plain_name(self.rater) and thing_of(r) in self.things
        ]
        self._again = mine[-1] if mine else None
        return self._again

    def _ask(self, thing: Rateable, step: int, reason: str) -> Ask:
        self._asked.append(thing)
        return Ask(
            "rate",
            {
                "trial": self.plan.id,
                "scale": thing.scale,
                "stage": thing.stage,
                "zone": thing.zone,
                "treatment": thing.treatment,
                "rater": self.rater,
                "step": step,
                "reason": reason,
            },
        )
