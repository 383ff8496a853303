"""What the readings of each run rest on, run by run. Pure; any thread."""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import channel_label
from acquire.report.evidence.between import between_words
from acquire.report.record.record import RunRecord, Standing, TrialRecord
from acquire.report.sections.brackets import outside, without
from acquire.report.words.wording import (
    counted,
    listed,
    moment,
    numbered,
    said_moment,
)


class RunBlock(NamedTuple):
    """One run; `states` has a sentence for each group of its readings under the same checks."""

    id: int
    what: str
    when: str
    instrument: str
    states: tuple[str, ...]


def run_blocks(record: TrialRecord) -> tuple[RunBlock, ...]:
    """Every run of the trial, in its order."""
    return tuple(_run(record, run) for run in record.runs)


def _run(record: TrialRecord, run: RunRecord) -> RunBlock:
    mine = [r for r in record.readings if r.run_id == run.id]
    groups: dict[tuple[str, int | None, int | None], list[int]] = {}
    voids = [r.id for r in mine if r.standing is Standing.VOID]
    for r in mine:
        # A void counts as void alone, here as in every other count of the page.
        if r.standing is not Standing.VOID:
            groups.setdefault((r.bracket, r.check_id, r.closing_check_id), []).append(r.id)
    states = [
        bracket_sentence(record, state, opening, closing, ids)
        for (state, opening, closing), ids in groups.items()
    ]
    if voids:
        states.append(
            f"Void: {counted(len(voids), 'reading')} (number {numbered(voids)}) taken out by a "
            "person, whatever the checks around say."
        )
    ended = (
        f"{moment(run.begun_utc_ns)} to {moment(run.ended_utc_ns)}"
        if run.ended_utc_ns is not None
        else f"{moment(run.begun_utc_ns)}, not finished"
    )
    suspects = sum(1 for r in mine if r.standing is Standing.SUSPECT)
    if run.end_reason:
        ended += f" (ended as: {run.end_reason})"
    if suspects:
        verb = "is" if suspects == 1 else "are"
        ended += f"; {counted(suspects, 'reading')} of it {verb} suspect since"
    return RunBlock(
        run.id,
        f"{_measured(record, run.measure)}, {run.stage}",
        ended,
        f"{run.instrument}, serial {run.serial or 'unknown'}",
        tuple(states) or ("No reading was taken.",),
    )


def _measured(record: TrialRecord, measure_id: str) -> str:
    measure = record.plan.measure(measure_id)
    if measure is None:
        return f"measure {measure_id}"
    channels = listed([channel_label(c) for c in measure.channels if c])
    return f"{measure.quantity.value}{f' at {channels}' if channels else ''} (measure {measure_id})"


def bracket_sentence(
    record: TrialRecord, state: str, opening: int | None, closing: int | None, ids: list[int]
) -> str:
    """What the checks around some readings say of them, in one sentence."""
    who = f"{counted(len(ids), 'reading')} (number {numbered(ids)})"
    if state == "unchecked":
        return f"Unchecked: {who} counted without a valid check, as the plan declared."
    later = record.check(closing)
    when = said_moment(later.judged_utc_ns) if later and later.judged_utc_ns else ""
    before = f"{who} taken after check {opening} passed"
    between = between_words(record, opening, closing)
    also = f" Between: {between}." if between else ""
    for check in (record.check(opening), later):
        if check is not None and check.withdrawn:
            also += f" Check {check.id} rests on a certificate that was withdrawn since."
    doubted = record.doubted(opening, closing)
    return {
        "bracketed": f"Bracketed: {before}; check {closing} passed too on {when}, so the meter was "
        + (
            "inside its limits at these two. That it was so all the time is not shown."
            if between
            else "inside its limits before and after."
        ),
        "open": f"Open: {before}; no check since has closed them, so nothing shows yet "
        "that the meter stayed inside its limits.",
        "not closed": f"Not closed: {before}; the meter was re-adjusted before a check had decided "
        "how it reads, and no later one says anything of these readings. They stand because the "
        "meter was read as it was found, and was not outside its limits for certain.",
        "suspect": f"Suspect: {before}, but {without(doubted)}, and nothing else shows that the "
        "meter was inside its limits; these readings are left out of the results."
        if doubted is not None
        else f"Suspect: {before}, but check {closing} on {when} found the meter outside "
        f"{outside(record, opening, closing)}; at some moment in between it left its limits, so "
        "these readings are left out of the results."
        if closing is not None
        else f"Suspect: {before}; then the meter was re-adjusted, and no check before that had "
        "read it as it was found. Nothing shows that it was still inside its limits, and no later "
        "check can, so these readings are left out of the results.",
    }[state] + also
