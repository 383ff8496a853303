"""The calls a daemon understands, with their arguments as schemas.

Each call becomes one act on the desk, or a word with the daemon itself. There is no call beyond
this table, and none of them takes an argument that opens the gate.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from acquire.control.arguments import Phrase, Remark, Word, whole
from acquire.control.names import HELLO, STATUS, STOP, TAKE, TYPE, WATCH
from acquire.control.score_calls import CALLS as SCORE_CALLS
from acquire.control.work_calls import CALLS as WORK_CALLS
from acquire.errors import NotFound
from acquire.pipeline.acts import Acts
from acquire.pipeline.recorder import Act
from acquire.pipeline.trial_acts import SHOWN
from acquire.schema import Number as Figure
from acquire.schema import Schema, read
from acquire.settings import parse_plan
from acquire.store.worked import UNSEALED


class Nothing(Schema):
    """A call without arguments."""


Number = Annotated[int, Field(ge=1, le=2**53)]
Replicate = Annotated[int, Field(ge=1, le=1_000_000)]


class OfInstrument(Schema):
    instrument: Word


class OnPiece(Schema):
    instrument: Word
    piece: Word


class Entry(Schema):
    instrument: Word
    text: Word


class ClimateEntry(Schema):
    temperature_c: Figure
    humidity_percent: Figure | None = None


class OtherClock(Schema):
    shown_utc_ns: Annotated[int, Field(ge=0, le=2**62)]
    reason: Remark


class BeginRun(Schema):
    text: Annotated[str, Field(max_length=1_000_000), AfterValidator(whole)]
    source: Annotated[str, Field(max_length=4096), AfterValidator(whole)]
    measure: Word | None = None
    stage: Word
    instrument: Word


class KeepTrial(Schema):
    text: Annotated[str, Field(max_length=1_000_000), AfterValidator(whole)]
    source: Annotated[str, Field(max_length=4096), AfterValidator(whole)]
    key: Annotated[str, Field(max_length=1_000_000), AfterValidator(whole)] = ""


class OpenKey(Schema):
    trial: Word
    who: Phrase
    why: Remark = ""


class CloseTrial(Schema):
    trial: Word
    why: Remark = ""


class GoTo(Schema):
    zone: Word
    replicate: Replicate | None = None


class Finish(Schema):
    why: Remark = ""


class Targets(Schema):
    trial: Word | None = None
    measure: Word | None = None
    stage: Word | None = None


class Void(Schema):
    reading_id: Number
    reason: Remark


class Assign(Schema):
    reading_id: Number
    trial: Word
    measure: Word | None = None
    zone: Word
    stage: Word
    replicate: Replicate
    reason: Remark


class Note(Schema):
    text: Remark
    trial: Word = ""
    stage: Word = ""


class Clap(Schema):
    trial: Word = ""


Maker = Callable[[Acts, Any], Act]


def _begin_run(acts: Acts, call: BeginRun) -> Act:
    """A plan is read on the caller's thread: however long that takes, nothing waits for it."""
    plan = parse_plan(call.text, call.source)
    return lambda at: acts.runs.begin(
        plan, call.measure, call.stage, call.instrument, at, call.source
    )


def _keep_trial(acts: Acts, call: KeepTrial) -> Act:
    plan = parse_plan(call.text, call.source)
    return lambda at: acts.trials.keep(plan, call.key, at)


# What each call takes, and the act it makes of that (`a` the acts, `c` the call's arguments).
_ACTS: dict[str, tuple[type[Schema], Maker]] = {
    "begin_check": (OfInstrument, lambda a, c: lambda at: a.checks.begin(c.instrument, at)),
    "readjusted": (OfInstrument, lambda a, c: lambda at: a.checks.readjusted(c.instrument, at)),
    "climate": (
        ClimateEntry,
        lambda a, c: lambda at: a.climate.enter(c.temperature_c, c.humidity_percent, at),
    ),
    "trust_clock": (
        OtherClock,
        lambda a, c: lambda at: a.clock.trust(c.shown_utc_ns, c.reason, at),
    ),
    "insist_piece": (
        OnPiece,
        lambda a, c: lambda at: a.checks.insist(c.instrument, c.piece, at),
    ),
    "abandon_check": (OfInstrument, lambda a, c: lambda at: a.checks.abandon(c.instrument, at)),
    "keep_trial": (KeepTrial, _keep_trial),
    "show_key": (
        OpenKey,
        lambda a, c: lambda at: a.trials.open_key(c.trial, SHOWN, c.who, c.why, at),
    ),
    "unseal": (
        OpenKey,
        lambda a, c: lambda at: a.trials.open_key(c.trial, UNSEALED, c.who, c.why, at),
    ),
    "close_trial": (CloseTrial, lambda a, c: lambda at: a.trials.close(c.trial, True, c.why, at)),
    "reopen_trial": (
        CloseTrial,
        lambda a, c: lambda at: a.trials.close(c.trial, False, c.why, at),
    ),
    **WORK_CALLS,
    **SCORE_CALLS,
    "begin_run": (BeginRun, _begin_run),
    "resume_run": (Nothing, lambda a, _: a.runs.resume),
    "skip": (Nothing, lambda a, _: a.runs.skip),
    "back": (Nothing, lambda a, _: a.runs.back),
    "go_to": (GoTo, lambda a, c: lambda at: a.runs.go_to(c.zone, c.replicate, at)),
    "targets": (
        Targets,
        lambda a, c: lambda _: a.runs.targets(c.trial, c.measure, c.stage),
    ),
    "finish_run": (Finish, lambda a, c: lambda at: a.runs.finish(c.why, at)),
    "void": (Void, lambda a, c: lambda at: a.readings.void(c.reading_id, c.reason, at)),
    "assign": (
        Assign,
        lambda a, c: (
            lambda at: a.readings.assign(
                c.reading_id, c.trial, c.measure, c.zone, c.stage, c.replicate, c.reason, at
            )
        ),
    ),
    "note": (Note, lambda a, c: lambda at: a.note(c.text, c.trial, c.stage, at)),
    "clap": (Clap, lambda a, c: lambda at: a.clap(c.trial, at)),
    "close_sitting": (Nothing, lambda a, _: a.close_sitting),
    STATUS: (Nothing, lambda a, _: a.status),
}

NAMES = (*_ACTS, TAKE, TYPE, STOP, WATCH, HELLO)


def act_of(acts: Acts, name: str, arguments: Mapping[str, object]) -> Act:
    """The act that a call asks for.

    Raises `NotFound` for an unknown call and `SettingsError` for arguments that do not fit.
    """
    if name not in _ACTS:
        raise NotFound(
            f"there is no call {name[:80]!r}", wanted=", ".join(NAMES), next_step="use one of these"
        )
    schema, make = _ACTS[name]
    next_step = "give what is wanted and try again"
    return make(acts, read(schema, arguments, name, next_step=next_step))
