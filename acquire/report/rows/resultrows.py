"""Decisions, pairs, places and chances of a trial as rows, for a spreadsheet or a program.

Three kinds of row: a treatment against the control, two treatments against each other, and the
place of a treatment, each at one stage, measure and channel, by the results that decide there; and
three of wash life (`acquire.report.rows.washrows`). What cannot be said is empty and has its
reason. Reads the store and writes nothing to it. Any thread.
"""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from acquire.analysis.comparisons.among import Pair
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.films.film import Film
from acquire.analysis.places.standing import Standing
from acquire.analysis.scale import MOST_LOGARITHM
from acquire.report.answers.standings import late_of, standing_at
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.evidence.pullrows import PULL_COLUMNS, of_measure, pull_records
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.record.loading import Loader, load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.rows.export import CSV, Sink, csv_cells, json_line
from acquire.report.rows.ratingrows import RATING_COLUMNS, rating_records
from acquire.report.rows.washrows import WASH_COLUMNS, wash_records
from acquire.report.washing.washlife import wash_answer
from acquire.report.words.columns import Column, Record
from acquire.units import symbol

CONTROL, PAIR, PLACE = "control", "pair", "place"

COLUMNS = (
    Column("result", "control (a treatment against the control), pair (two treatments against "
           "each other) or place (where a treatment stands among all); of wash life: kept (share "
           "of a gain kept), life (of a zone) or outlived (two treatments); of a sled: pull, or no "
           "pull (a reading that is in no coefficient); of people: rating, agreement"),
    Column("trial", "id of the trial", True),
    Column("measure", "id of the measure", True),
    Column("quantity", "gloss, force or transmittance"),
    Column("channel", "gloss: angle in degrees; transmittance: band in nm; force: empty"),
    Column("band", "transmittance: band and weights of every figure; else empty", True),
    Column("unit", "name of the unit of the figures; of a transmittance one: differences are "
           "natural logarithms of ratios, which stand in columns of their own"),
    Column("unit_symbol", "its sign", True),
    Column("stage", "stage of the trial", True),
    Column("corrected", "1 if the readings corrected for drift decide at this stage, else 0"),
    Column("treatment", "id of the treatment that is judged", True),
    Column("treatment_name", "its name", True),
    Column("against", "id of the control or of the other treatment; empty for a place", True),
    Column("against_name", "its name", True),
    Column("decision", "better, worse, shown equal, no difference shown or no decision; for a "
           "place: first, first together or behind"),
    Column("reason", "why there is no decision", True),
    Column("difference", "the net change, or that of the treatment less that of the other"),
    Column("expanded", "half width of the interval of 95 %, which holds for all of `together`"),
    Column("low", "lower end of that interval"),
    Column("high", "upper end of that interval"),
    Column("ratio", "transmittance: the film's light over that of its blank, or of the other film; "
           "exp of the difference"),
    Column("ratio_low", "lower end of its interval of 95 %"),
    Column("ratio_high", "upper end of it"),
    Column("blocking", "1 less the ratio; against the control only"),
    Column("absorbance", "-log10 of the ratio; against the control only"),
    Column("p", "level at which the difference is just shown, for all of `together`; 0 below what "
           "can be told"),
    Column("smallest_visible", "the true difference that this run would have shown in 80 of 100 "
           "repeats, if all truly scatters as it did here; of films what head, readings and slides "
           "do to it is taken at that size"),
    Column("together", "how many comparisons the interval holds for at once"),
    Column("rule", "by what limit, and why by that one", True),
    Column("place_first", "the best place it may have, counted from 1"),
    Column("place_last", "the last place it may have; all places of a stage hold together at 95 %"),
    Column("tied", "1 if another treatment may have one of these places, else 0"),
    Column("chance_first", "how likely it is truly the best, 0 to 1; decides nothing"),
    Column("chance_first_unshifted", "the same with the known shifts of the meter taken off, or "
           "with what its error may have left where checks read one piece; empty without any"),
    Column("expected_place", "its mean place by these chances"),
    *WASH_COLUMNS,
    *PULL_COLUMNS,
    *RATING_COLUMNS,
    Column("too_late", "1 if the figure rests on a reading that was taken when the surface of its "
           "stage was gone, else 0; empty where no reading is behind it"),
)  # fmt: skip


def result_records(record: TrialRecord) -> Iterator[Record]:
    """All rows, measure by measure and stage by stage; None where a column does not apply."""
    found = evidence_of(record)
    for evidence in found:
        for stage in dict.fromkeys(c.stage for c in evidence.result.comparisons):
            known = _known(record, evidence) | {
                "stage": stage,
                "corrected": int(evidence.is_corrected(stage)),
            }
            for values in _of_stage(record, evidence, stage):
                yield known | values
        washed = wash_answer(record, evidence)
        if washed is not None:
            corrected = int(washed.found.result is not evidence.result)
            for values in wash_records(washed):
                yield _known(record, evidence) | {"corrected": corrected} | values
    for own in of_measure(found).values():
        for values in pull_records(record, own):
            yield _known(record, own[0]) | {"coefficient": None} | values
    nothing = dict.fromkeys(c.name for c in COLUMNS) | {"trial": record.plan.id}
    for values in rating_records(record):
        yield nothing | values


def _known(record: TrialRecord, evidence: Evidence) -> Record:
    """What all rows of one measure and channel have; None in all other columns."""
    return dict.fromkeys(c.name for c in COLUMNS) | {
        "trial": record.plan.id,
        "measure": evidence.measure.id,
        "quantity": evidence.measure.quantity.value,
        "channel": evidence.channel,
        "band": evidence.scale.what if evidence.scale.is_ratio else None,
        "unit": evidence.scale.unit,
        "unit_symbol": symbol(evidence.scale.unit),
        "coefficient": None if evidence.friction is None else str(evidence.friction.friction.kind),
    }


def _of_stage(record: TrialRecord, evidence: Evidence, stage: str) -> Iterator[Record]:
    control = evidence.result.control
    for c in evidence.ranked(stage):
        late = _late(record, evidence, stage, (c.treatment, control))
        yield {
            "result": CONTROL,
            **_named(record, c.treatment, control),
            **_against_control(c),
            "too_late": late,
        }
    found = standing_at(record, evidence, stage)
    if found is None:
        return
    for pair in found.pairs:
        said = _of_pair(pair, found)
        if evidence.scale.is_ratio:
            said |= _ratio(pair)
        said["too_late"] = _late(record, evidence, stage, (pair.first, pair.second))
        yield {"result": PAIR, **_named(record, pair.first, pair.second), **said}
    for i, treatment in enumerate(found.treatments):
        yield {
            "result": PLACE,
            "treatment": treatment,
            "treatment_name": record.name_of(treatment),
            **_of_place(found, i),
            # A place is one among all.
            "too_late": _late(record, evidence, stage, found.treatments),
        }


def _late(record: TrialRecord, evidence: Evidence, stage: str, treatments: Sequence[str]) -> int:
    return int(bool(late_of(record, evidence, stage, treatments)))


def _named(record: TrialRecord, treatment: str, against: str) -> Record:
    return {
        "treatment": treatment,
        "treatment_name": record.name_of(treatment),
        "against": against,
        "against_name": record.name_of(against),
    }


def _against_control(c: Comparison | Refusal) -> Record:
    if isinstance(c, Refusal):
        return {"decision": str(c.decision), "reason": f"{c.reason}; next: {c.next_step}"}
    return {
        "decision": str(c.decision),
        "difference": _figure(c.estimate),
        "expanded": _figure(c.budget.expanded),
        "low": _figure(c.interval[0]),
        "high": _figure(c.interval[1]),
        **_of_film(c.film),
        "p": _figure(c.p),
        "smallest_visible": _figure(c.smallest_visible),
        "together": c.family,
        "rule": c.budget.coverage_rule,
    }


def _of_pair(pair: Pair, found: Standing) -> Record:
    said: Record = {"decision": str(pair.decision), "difference": _figure(pair.estimate)}
    if pair.lacking:
        return said | {"reason": pair.lacking}
    p = pair.p
    return said | {
        "expanded": _figure(pair.half_width),
        "low": _figure(pair.interval[0]),
        "high": _figure(pair.interval[1]),
        "p": None if p is None else _figure(p),
        "smallest_visible": _figure(pair.smallest_visible),
        "together": len(found.pairs),
        "rule": pair.rule,
    }


def _of_film(film: Film | None) -> Record:
    if film is None:
        return {}
    return {
        "ratio": _figure(film.transmittance),
        "ratio_low": _figure(film.interval[0]),
        "ratio_high": _figure(film.interval[1]),
        "blocking": _figure(film.blocking),
        "absorbance": None if film.absorbance is None else _figure(film.absorbance),
    }


def _ratio(pair: Pair) -> Record:
    """What the one film lets through over what the other does."""
    if pair.lacking:
        return {"ratio": _figure(math.exp(pair.estimate))}
    ends = (pair.estimate, *pair.interval)
    return {
        name: _figure(math.exp(min(end, MOST_LOGARITHM)))
        for name, end in zip(("ratio", "ratio_low", "ratio_high"), ends, strict=True)
    }


def _of_place(found: Standing, i: int) -> Record:
    if found.places is None or found.chances is None:
        return {"decision": "no decision", "reason": found.lacking}
    first = found.places.tied_first
    unshifted = found.chances_unshifted
    return {
        "decision": "behind" if i not in first else "first" if len(first) == 1 else
        "first together",
        "place_first": found.places.best[i],
        "place_last": found.places.worst[i],
        "tied": int(found.places.is_tied[i]),
        "chance_first": _figure(found.chances.first[i]),
        "chance_first_unshifted": None if unshifted is None else _figure(unshifted.first[i]),
        "expected_place": _figure(found.chances.expected_place[i]),
        "rule": found.chances.method,
    }  # fmt: skip


def _figure(value: float) -> float:
    """Ten significant digits: more than anything here is worth, and none that a float made up."""
    return float(f"{value:.10g}")


def write_rows(store: Path, trial: str, form: str, file: Sink, load: Loader | None = None) -> int:
    """Write the rows of a trial as `form` (csv or jsonl), and give their number.

    The trial comes by `load` where whoever asks wants it, too.
    """
    found = result_records(load(trial) if load is not None else load_trial(store, trial))
    # The first one before any byte, so that a trial that is not there leaves nothing behind.
    first = next(found, None)
    writer = csv.writer(file, lineterminator="\n")
    if form == CSV:
        writer.writerow([column.name for column in COLUMNS])
    count = 0
    for row in found if first is None else itertools.chain([first], found):
        if form == CSV:
            writer.writerow(csv_cells(row, COLUMNS))
        else:
            file.write(json_line(row) + "\n")
        count += 1
    file.flush()
    return count


def write_rows_file(
    store: Path, trial: str, form: str, out: Path, load: Loader | None = None
) -> int:
    """The same into a file, whole or not at all. Raises `Misuse` where it may not go there."""
    require_place(out, f"results-{form}", store)
    with whole_file(out) as file:
        return write_rows(store, trial, form, file, load)
