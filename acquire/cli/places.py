"""`coatbench targets` and `coatbench readings`: places and numbers, as other commands take them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import bench_option, reach, store_of
from acquire.cli.spoken import say
from acquire.errors import NotFound

if TYPE_CHECKING:
    from acquire.store.reader import StoreReader

LATEST = 40


@click.command()
@click.argument("trial", required=False)
@click.argument("stage", required=False)
@click.option("--measure", metavar="ID", help="The measure, where the trial has several.")
@bench_option
def targets(trial: str | None, stage: str | None, measure: str | None, bench: Path | None) -> int:
    """List the places of a run: next, open, skipped, or filled by which reading.

    Of the run that is open or interrupted, or of a STAGE of a TRIAL that has a run. Zone, stage
    and replicate are what coatbench assign takes; the number of a reading is what coatbench void
    takes.

    \b
    Example:  coatbench targets
              coatbench targets gelcoat-1 bare
    Next:     coatbench run --resume, and g there goes to a zone
    """
    with reach(bench) as client:
        reply = client.call("targets", trial=trial, stage=stage, measure=measure)
    named = f"{reply['trial']}, {reply['measure']}, {reply['stage']}"
    run = f"run {reply['run_id']}: " if reply["run_id"] is not None else ""
    total, left = reply["slots_total"], reply["slots_left"]
    broken = reply.get("interrupted")
    if broken is not None:
        run = f"run {broken['run_id']}, which was interrupted: "
    say([f"{run}{named}: {total - left} of {total} taken, {left} left"])
    show_table(place_rows(reply))
    if broken is not None:
        say([f"next: coatbench check {broken['instrument']}, then coatbench run --resume"])
    return DONE


def place_rows(reply: Mapping[str, Any]) -> list[Cells]:
    """Headings and a row a place."""
    from acquire.live.words import clean, reading_words  # noqa: PLC0415 - slow

    def taken(reading: Mapping[str, Any]) -> str:
        words = reading_words({**reading, "unit": reply["unit"], "flags": ""})
        return f"{reading['reading_id']}: {words}"

    rows: list[Cells] = [("zone", "replicate", "treatment", "state", "readings")]
    for target in reply["targets"]:
        rows.append(
            (
                clean(target["zone"]),
                str(target["replicate"]),
                clean(target["treatment"]),
                target["state"],
                ", ".join(map(taken, target["readings"])),
            )
        )
    return rows


@click.command()
@click.argument("trial", required=False)
@click.option("--stage", metavar="STAGE", help="Only those of this stage of TRIAL.")
@click.option("--loose", is_flag=True, help="Only loose readings.")
@click.option("--all", "everything", is_flag=True, help=f"All, not only the latest {LATEST}.")
@bench_option
def readings(
    trial: str | None, stage: str | None, loose: bool, everything: bool, bench: Path | None
) -> int:
    """List readings with their numbers, places, and what became of them.

    The numbers are what coatbench void, assign and proof take. A state of "counts" is in the
    results; loose, void and suspect readings are in none, and why not is told.

    \b
    Example:  coatbench readings
              coatbench readings --loose
              coatbench readings gelcoat-1 --stage bare
    Next:     coatbench void NUMBER, coatbench assign NUMBER; coatbench export for a spreadsheet
    """
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow

    if stage and not trial:
        raise click.UsageError("--stage goes with a TRIAL")
    if loose and trial:
        raise click.UsageError("a loose reading is of no trial: say TRIAL or --loose")
    with StoreReader(store_of(bench)) as store:
        if trial is not None:
            _require(store, trial)
        found = readings_rows(
            store, trial=trial, stage=stage, loose=loose, latest=0 if everything else LATEST
        )
    if len(found) == 1:
        say(["no such reading is stored"])
        return DONE
    show_table(found)
    if not everything and len(found) > LATEST:
        say([f"these are the latest {LATEST}; --all lists every one"], err=True)
    return DONE


def _require(store: StoreReader, trial: str) -> None:
    known = [row["trial"] for row in store.rows("SELECT DISTINCT trial FROM trial ORDER BY id")]
    if trial not in known:
        raise NotFound(
            f"no trial {trial!r} has a run here",
            wanted=", ".join(known) or "a trial that has a run; none has yet",
            next_step="name one of these" if known else "begin one: coatbench run FILE STAGE",
        )


_OUTCOME = (
    "(SELECT outcome FROM check_judgement AS j WHERE j.check_id = closing_check_id) AS closed_as"
)
_DOUBTED = "(SELECT w.check_id FROM reassessment AS w WHERE w.id = reassessment_id) AS doubted"
_WHERE = (
    "(?1 IS NULL OR trial = ?1) AND (?2 IS NULL OR stage = ?2) AND (?3 = 0 OR role = 'loose') "
    "AND quantity IN ('gloss', 'force', 'transmittance')"
)
"""What counters and climate probes tell waits for no place, and would only hide what does."""


def readings_rows(
    store: StoreReader,
    zone: tzinfo | None = None,
    *,
    trial: str | None = None,
    stage: str | None = None,
    loose: bool = False,
    latest: int = 0,
) -> list[Cells]:
    """Headings and a row a reading, the latest last; `latest` 0 is all. Times are of `zone`."""
    from acquire.live.words import clean, reading_words  # noqa: PLC0415 - slow
    from acquire.model import from_utc_ns  # noqa: PLC0415 - slow

    found = store.rows(
        f"SELECT *, {_OUTCOME}, {_DOUBTED} FROM readings WHERE {_WHERE} "  # noqa: S608
        "ORDER BY reading_id DESC LIMIT ?4",
        (trial, stage, int(loose), latest or -1),
    )
    rows: list[Cells] = [("number", "at", "meter", "value", "place", "state", "why")]
    for row in map(dict, reversed(found)):
        state, why = _fate(row)
        rows.append(
            (
                str(row["reading_id"]),
                f"{from_utc_ns(row['at_utc_ns']).astimezone(zone):%m-%d %H:%M:%S}",
                clean(row["instrument"]) + (", typed" if row["typed"] else ""),
                reading_words(row),
                clean(_place(row)),
                state,
                clean(why),
            )
        )
    return rows


def _place(row: Mapping[str, Any]) -> str:
    if row["role"] == "check":
        return f"piece {row['piece']}, check {row['check_id']}"
    if row["role"] == "run":
        return f"{row['trial']} {row['stage']} {row['zone']} {row['replicate']}"
    return ""


def _fate(row: Mapping[str, Any]) -> tuple[str, str]:
    """What became of a reading, and why."""
    from acquire.live.words import loose_words  # noqa: PLC0415 - slow
    from acquire.report.words.wording import limits_words, without_words  # noqa: PLC0415 - slow

    if row["void_reason"] is not None:
        return "void", row["void_reason"]
    if row["role"] == "check":
        return "check", ""
    if row["role"] == "loose":
        return "loose", loose_words(row["loose_reason"], typed=bool(row["typed"]))
    if not row["counts"]:
        if row["doubted"] is not None:
            return "suspect", without_words(row["doubted"])
        closing = row["closing_check_id"]
        if closing is None:
            return "suspect", "it was re-adjusted after it, with no check as found before"
        limits = limits_words(None if row["closed_as"] == "fail" else row["check_id"])
        return "suspect", f"check {closing} after it found the meter outside {limits}"
    state = "unchecked" if row["bracket"] == "unchecked" else "counts"
    return state, f"assigned: {row['assigned_reason']}" if row["assigned_reason"] else ""
