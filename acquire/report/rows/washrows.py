"""Wash life as rows of results: shares kept, lives of zones, and who outlived whom. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.analysis.durability.crossing import Crossing
from acquire.analysis.durability.ending import ZoneLife
from acquire.analysis.durability.outliving import LivesPair
from acquire.analysis.durability.washresult import TreatmentLife, WashResult
from acquire.report.washing.washlife import WashAnswer, decided_by_zones
from acquire.report.words.columns import Column, Record

KEPT, LIFE, OUTLIVED = "kept", "life", "outlived"

WASH_COLUMNS = (
    Column("zone", "the zone of a life", True),
    Column("washes", "how many washes the stage comes after"),
    Column("share_kept", "part of the gain that is kept, 1 for all of it; low and high are its "
           "interval"),
    Column("life_low", "the last count of washes that surely passed; the life is at least that"),
    Column("life_high", "the first count that surely failed; empty where the life has not ended"),
    Column("crossing", "at how many washes the straight line between two counts meets the "
           "criterion, of a life that has ended; decides nothing"),
    Column("crossing_low", "from where the readings leave that line"),
    Column("crossing_high", "to where; empty where they do not bound it"),
)  # fmt: skip


def wash_records(answer: WashAnswer) -> Iterator[Record]:
    """Shares treatment by treatment, then lives zone by zone, then pairs; figures not rounded."""
    found = answer.found
    late = {treatment for treatment, _ in answer.late}
    for t in found.treatments:
        for row in _kept(found, t):
            yield row | {"too_late": int((t.treatment, row["stage"]) in answer.late)}
    for t in found.treatments:
        for zone in t.zones:
            known = {"result": LIFE, **_treatment(t), **_life(zone)}
            yield known | {"too_late": int(t.treatment in late)}
    if found.compared is not None:
        shown = {t.shown: t for t in found.treatments}
        for pair in found.compared.pairs:
            both = {shown[pair.first].treatment, shown[pair.second].treatment}
            yield {"result": OUTLIVED, **_pair(pair, shown), "too_late": int(bool(both & late))}


def _treatment(t: TreatmentLife) -> Record:
    return {"treatment": t.treatment, "treatment_name": t.name}


def _kept(found: WashResult, t: TreatmentLife) -> Iterator[Record]:
    shares = {look.stage: k for look, k in t.wear.kept}
    for look in found.washing.washed:
        k = shares.get(look.stage)
        row: Record = {"result": KEPT, **_treatment(t), "stage": look.stage, "washes": look.washes}
        if k is None or k.share is None:
            yield row | {"reason": t.wear.lacking if k is None else k.lacking}
            continue
        yield row | {
            "share_kept": _figure(k.share),
            "low": None if k.low is None else _figure(k.low),
            "high": None if k.high is None else _figure(k.high),
            "reason": k.lacking or None,
            "together": found.together,
        }


def _life(zone: ZoneLife) -> Record:
    if zone.life is None or not zone.is_told:
        why = zone.lacking or "at no count after washing is it beyond doubt on which side it lies"
        return {"zone": zone.zone, "decision": "no decision", "reason": why}
    return {
        "zone": zone.zone,
        "decision": "at least" if zone.life.is_censored else "between",
        "life_low": zone.life.low,
        "life_high": None if zone.life.is_censored else zone.life.high,
        **_crossing(zone.crossing),
        "reason": zone.remark or None,
    }


def _crossing(found: Crossing | None) -> Record:
    if found is None or found.count is None:
        return {}
    return {
        "crossing": _figure(found.count),
        "crossing_low": _figure(found.low),
        "crossing_high": None if found.high is None else _figure(found.high),
    }


def _pair(pair: LivesPair, shown: dict[str, TreatmentLife]) -> Record:
    one, other = shown[pair.first], shown[pair.second]
    row: Record = {
        **_treatment(one),
        "against": other.treatment,
        "against_name": other.name,
        "decision": str(decided_by_zones(pair, one, other)),
    }
    if pair.p is None:
        return row | {"reason": pair.test.lacking}
    return row | {"p": _figure(pair.p), "rule": pair.test.rule}


def _figure(value: float) -> float:
    """Ten significant digits, as in the other rows."""
    return float(f"{value:.10g}")
