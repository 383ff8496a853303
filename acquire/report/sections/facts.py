"""What was compared, when, where and with what: the head of the page. Pure; any thread."""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import Measure, channel_label
from acquire.report.answers.blindness import blinding_words
from acquire.report.evidence.bothways import HOW
from acquire.report.record.record import InstrumentRecord, Standing, TrialRecord
from acquire.report.words.wording import counted, listed, span

_MOST_NAMES = 20
_MOST_SITTINGS = 6


class Fact(NamedTuple):
    """A line of the head: what it is about, and one or more sentences."""

    about: str
    lines: tuple[str, ...]


def facts(record: TrialRecord) -> tuple[Fact, ...]:
    """The head's lines in reading order."""
    plan = record.plan
    treated = [t.name or t.id for t in plan.treatments if not t.is_control]
    read = {r.stage for r in record.readings}
    counting = {r.stage for r in record.readings if r.standing is Standing.COUNTS}
    stages = [
        s if s in counting else f"{s} ({'no reading counts' if s in read else 'not read'})"
        for s in plan.stages
    ]
    # Written out whole only where a reader would still read them; the tables have them all.
    return (
        Fact("Compared", (listed(treated, _MOST_NAMES) or "no treatment besides the control",)),
        Fact(
            "Control",
            (f"{plan.control.name or plan.control.id}, on {_zones_of(record, plan.control.id)}",),
        ),
        *([Fact("Blinding", blinded)] if (blinded := blinding_words(record)) else []),
        Fact("Panel", (f"{plan.panel}; {counted(len(plan.zones), 'zone')}",)),
        Fact("Stages", (listed(stages, _MOST_NAMES),)),
        Fact("Measured", tuple(_measured(m) for m in plan.measures)),
        Fact("When and where", _sittings(record)),
        Fact(
            "Instruments",
            tuple(_instrument(record, i) for i in record.instruments) or ("none yet",),
        ),
    )


def _zones_of(record: TrialRecord, treatment: str) -> str:
    zones = [z.id for z in record.plan.zones if z.treatment == treatment]
    return f"{'zone' if len(zones) == 1 else 'zones'} {listed(zones, _MOST_NAMES)}"


def _measured(measure: Measure) -> str:
    channels = [channel_label(c) for c in measure.channels if c]
    at = f" at {listed(channels)}" if channels else ""
    how = HOW.get(measure.drift_correction, "")
    return (
        f"{measure.quantity.value}{at}, {counted(measure.replicates, 'reading')} for each zone "
        f"and stage (measure {measure.id})"
        f"{f', as read and corrected for the drift of the meter {how}' if how else ''}"
    )


def _sittings(record: TrialRecord) -> tuple[str, ...]:
    said = [
        f"{span(s.begun_utc_ns, s.last_utc_ns)} ({s.bench})"
        + ("" if s.is_closed else "; the sitting is not closed")
        for s in record.sittings
    ]
    if len(said) > _MOST_SITTINGS:
        hidden = len(said) - _MOST_SITTINGS
        said[_MOST_SITTINGS - 1 : -1] = [f"and {counted(hidden, 'sitting')} more in between"]
    return tuple(said) or ("no sitting yet",)


def _instrument(record: TrialRecord, instrument: InstrumentRecord) -> str:
    kinds = {"gloss": "gloss meter", "force": "force gauge", "transmittance": "transmission head"}
    kind = kinds.get(instrument.kind.value if instrument.kind else "", "instrument")
    serial = f"serial number {instrument.serial}" if instrument.serial else "no serial number known"
    if instrument.instrument in record.typed_instruments:
        serial += " as declared, not read: it has no port and its readings were typed by hand"
    return f"{kind} {instrument.instrument}, {serial}"
