"""The calls of the work beside readings: what was applied, washed, rated, photographed.

Schemas of their arguments and the acts that they become; `acquire.control.calls` has them in its
table.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from acquire.control.arguments import Phrase, Remark, Word, whole
from acquire.pipeline.acts import Acts
from acquire.pipeline.recorder import Act
from acquire.pipeline.wash_acts import MOST_WASHES
from acquire.schema import Number as Figure
from acquire.schema import Schema
from acquire.trial.washes import KEY, TYPED

MOST_ZONES = 500

Zones = Annotated[list[Word], Field(max_length=MOST_ZONES)]
"""Zones of the plan; none for all of them."""


class ToWash(Schema):
    trial: Word
    zones: Zones = Field(default_factory=list)


class Wash(Schema):
    trial: Word
    zones: Zones = Field(default_factory=list)
    washes: Annotated[int, Field(ge=1, le=MOST_WASHES)] = 1
    by_key: bool = False


class CountWashes(Schema):
    trial: Word
    zones: Zones = Field(default_factory=list)
    counter: Word


class StopCounting(Schema):
    counter: Word


class CorrectWashes(Schema):
    trial: Word
    zones: Zones = Field(default_factory=list)
    washes: Annotated[int, Field(ge=-MOST_WASHES, le=MOST_WASHES)]
    reason: Remark


class GiveUp(Schema):
    trial: Word
    stage: Word
    zones: Zones = Field(default_factory=list)
    why: Remark


class Apply(Schema):
    trial: Word
    zones: Zones = Field(default_factory=list)
    treatment: Word = ""
    amount: Phrase = ""
    haze_minutes: Annotated[Figure, Field(ge=0, le=100_000)] | None = None
    applied_utc_ns: Annotated[int, Field(ge=0, le=2**62)] | None = None
    text: Remark = ""


class TakeBackApplication(Schema):
    trial: Word
    applications: Annotated[
        list[Annotated[int, Field(ge=1, le=2**53)]], Field(max_length=MOST_ZONES)
    ]
    reason: Remark


class Rate(Schema):
    trial: Word
    scale: Word
    stage: Word = ""
    zone: Word = ""
    treatment: Word = ""
    rater: Phrase
    step: Annotated[int, Field(ge=1, le=1000)]
    reason: Remark = ""


class Photo(Schema):
    trial: Word
    stage: Word = ""
    zone: Word = ""
    path: Annotated[str, Field(min_length=1, max_length=4096), AfterValidator(whole)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}\Z")]
    size_bytes: Annotated[int, Field(ge=0, le=2**62)]
    text: Remark = ""


def to_wash(acts: Acts, call: ToWash) -> Act:
    return lambda at: acts.washes.prepare(call.trial, call.zones, at)


def wash(acts: Acts, call: Wash) -> Act:
    by = KEY if call.by_key else TYPED
    return lambda at: acts.washes.count(call.trial, call.zones, call.washes, by, at)


def count_washes(acts: Acts, call: CountWashes) -> Act:
    return lambda at: acts.counters.begin(call.trial, call.zones, call.counter, at)


def stop_counting(acts: Acts, call: StopCounting) -> Act:
    return lambda at: acts.counters.end(call.counter, at)


def correct_washes(acts: Acts, call: CorrectWashes) -> Act:
    return lambda at: acts.washes.correct(call.trial, call.zones, call.washes, call.reason, at)


def give_up(acts: Acts, call: GiveUp) -> Act:
    return lambda at: acts.giving_up.give_up(call.trial, call.stage, call.zones, call.why, at)


def take_back(acts: Acts, call: GiveUp) -> Act:
    return lambda at: acts.giving_up.take_back(call.trial, call.stage, call.zones, call.why, at)


def apply(acts: Acts, call: Apply) -> Act:
    return lambda at: acts.applications.apply(
        call.trial, call.zones, call.treatment, call.amount, call.haze_minutes,
        call.applied_utc_ns, call.text, at,
    )  # fmt: skip


def take_back_application(acts: Acts, call: TakeBackApplication) -> Act:
    return lambda at: acts.applications.take_back(call.trial, call.applications, call.reason, at)


def rate(acts: Acts, call: Rate) -> Act:
    return lambda at: acts.ratings.rate(
        call.trial, call.scale, call.stage, call.zone, call.treatment, call.rater, call.step,
        call.reason, at,
    )  # fmt: skip


def photo(acts: Acts, call: Photo) -> Act:
    return lambda at: acts.photos.keep(
        call.trial, call.stage, call.zone, call.path, call.sha256, call.size_bytes, call.text, at
    )


CALLS: dict[str, tuple[type[Schema], Callable[[Acts, Any], Act]]] = {
    "to_wash": (ToWash, to_wash),
    "wash": (Wash, wash),
    "count_washes": (CountWashes, count_washes),
    "stop_counting": (StopCounting, stop_counting),
    "correct_washes": (CorrectWashes, correct_washes),
    "give_up_stage": (GiveUp, give_up),
    "take_back_stage": (GiveUp, take_back),
    "apply": (Apply, apply),
    "take_back_application": (TakeBackApplication, take_back_application),
    "rate": (Rate, rate),
    "photo": (Photo, photo),
}
