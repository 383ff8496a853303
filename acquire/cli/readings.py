"""Commands of one call each: take, void, assign, note, close."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, reach
from acquire.cli.spoken import say
from acquire.errors import Misuse, Refused
from acquire.visible import says_something


@click.command()
@click.argument("instrument")
@bench_option
def take(instrument: str, bench: Path | None) -> int:
    """Ask an instrument for a reading, if it is one that must be asked.

    The reading goes where the next press of the instrument's own button would go: to the piece of
    a check under way, to the next target of the open run, else among the loose readings.

    \b
    Example:  coatbench take deck
    Next:     coatbench watch, or the screen of the run, shows what became of it.
    """
    with reach(bench) as client:
        if not client.call("take", instrument=instrument).get("asked"):
            raise Refused(
                f"{instrument} was not asked",
                reason="not connected",
                got="a meter that is not connected",
                wanted=f"{instrument} connected",
                next_step=f"plug {instrument} in and switch it on (it is found by itself)",
            )
    click.echo(f"asked {instrument} for a reading")
    return DONE


@click.command()
@click.argument("number", type=click.IntRange(min=1), required=False)
@click.option("--last", is_flag=True, help="The last reading of the open run, or of a check.")
@click.option("--reason", required=True, help="Why, in words; it is printed in the report.")
@bench_option
def void(number: int | None, last: bool, reason: str, bench: Path | None) -> int:
    """Take a reading out of the results, with the reason.

    The reading stays in the store and in the report, marked as void; its place is open again and,
    in an open run, comes next.

    In a check under way a press that slipped can be voided, too: its piece is read anew in full.
    A piece has one void a check, and two readings outside its limit are a finding and stay.

    Of a press out of the meter's range there is no value, yet its zone is not judged by what else
    was read there; one that was a slip can be voided, too.

    \b
    Example:  coatbench void 132 --reason "meter slipped off the edge"
              coatbench void --last --reason "dust on the lens"
    Next:     press again; the new reading takes the place. coatbench readings lists the numbers.
    """
    from acquire.live.words import taken_words, voided_words  # noqa: PLC0415 - slow

    if last == (number is not None):
        raise click.UsageError("name a reading by its NUMBER, or say --last")
    with reach(bench) as client:
        if number is None:
            found = last_taken(client.call("status"))
            number = int(found["reading_id"])
            # Named before it goes: what is pressed from here on is another reading.
            say([f"the last reading is {number} ({taken_words(found)})"])
        reply = client.call("void", reading_id=number, reason=reason)
    say([voided_words(reply)])
    return DONE


def last_taken(status: Mapping[str, Any]) -> Mapping[str, Any]:
    """The last reading of the open run or of a check under way. Raises `Refused`."""
    places = [own["checking"] for own in status["instruments"]] + [status["run"]]
    found = [p["last_taken"] for p in places if p is not None and p["last_taken"] is not None]
    if not found:
        raise Refused(
            "there is no last reading to void",
            reason="nothing to void",
            got="no reading in an open run or a check under way, or one that is void already",
            next_step="coatbench readings lists the numbers: coatbench void NUMBER --reason ...",
        )
    return max(found, key=lambda taken: int(taken["reading_id"]))


@click.command()
@click.argument("number", type=click.IntRange(min=1))
@click.option("--trial", required=True, help="The id of the trial.")
@click.option("--stage", required=True)
@click.option("--zone", required=True)
@click.option("--replicate", required=True, type=click.IntRange(min=1))
@click.option("--measure", help="Needed where the trial has several.")
@click.option("--reason", required=True, help="Why it belongs there, in words.")
@bench_option
def assign(
    number: int,
    trial: str,
    stage: str,
    zone: str,
    replicate: int,
    measure: str | None,
    reason: str,
    bench: Path | None,
) -> int:
    """Give a loose reading its place in a trial.

    Only where the place is open and a valid check covered the moment at which the reading arrived;
    there is no way around that.

    \b
    Example:  coatbench assign 140 --trial gelcoat-1 --stage bare --zone A2 --replicate 3
                  --reason "pressed just before the run was begun"
    Next:     coatbench readings --loose lists what else is loose.
    """
    with reach(bench) as client:
        client.call(
            "assign",
            reading_id=number,
            trial=trial,
            measure=measure,
            zone=zone,
            stage=stage,
            replicate=replicate,
            reason=reason,
        )
    click.echo(f"reading {number} now counts for zone {zone}, {stage}, replicate {replicate}")
    return DONE


@click.command()
@click.argument("text", required=False, default="")
@click.option("--trial", default="", help="The trial it is about.")
@click.option("--stage", default="", help="The stage it is about.")
@click.option("--clap", is_flag=True, help="Mark this moment for a film, in the place of a text.")
@bench_option
def note(text: str, trial: str, stage: str, clap: bool, bench: Path | None) -> int:
    """Keep a remark with the sitting, with the time.

    With --clap it is a clap mark: hold the screen into the picture, or clap as you press Enter.
    Where the film shows the mark's line appear is the moment that was stored; coatbench captions
    takes its number and that place of the film.

    \b
    Example:  coatbench note "sun came round onto the panel" --trial gelcoat-1
              coatbench note --clap
    Next:     the report of the trial shows it; coatbench captions TRIAL --clap NUMBER@MM:SS
    """
    if clap:
        if text or stage:
            raise click.UsageError("--clap goes without a text and without --stage")
        return _clap(trial, bench)
    if not says_something(text):
        raise Misuse(
            "there is no remark to keep",
            got="a text without a word",
            wanted="what is to be remembered",
            next_step='say it in quotes: coatbench note "sun came round onto the panel"',
        )
    with reach(bench) as client:
        reply = client.call("note", text=text, trial=trial, stage=stage)
    click.echo(f"note {reply['note_id']} kept")
    return DONE


def _clap(trial: str, bench: Path | None) -> int:
    from acquire.model import iso_utc  # noqa: PLC0415 - slow

    with reach(bench) as client:
        reply = client.call("clap", trial=trial)
    click.echo(f"clap mark {reply['note_id']} at {iso_utc(int(reply['at_utc_ns']))}")
    return DONE


@click.command()
@bench_option
def close(bench: Path | None) -> int:
    """End the sitting: this stretch of work at the bench.

    Do the closing check first: it brackets the readings since the last one. Where it finds the
    meter outside its limit they are suspect, and without one their report says that nothing closed
    them. Where one is missing this says so, and asks first if it is typed at a terminal.

    \b
    Example:  coatbench check shore && coatbench close
    Next:     coatbench report TRIAL
    """
    with reach(bench) as client:
        unclosed = unclosed_lines(client.call("status"))
        if unclosed:
            say(unclosed)
            if sys.stdin.isatty() and not click.confirm("close the sitting all the same?"):
                click.echo("the sitting stays open")
                return NOT_DONE
        reply = client.call("close_sitting")
    click.echo(f"sitting {reply['sitting_id']} is closed")
    return DONE


def unclosed_lines(status: Mapping[str, Any]) -> list[str]:
    """A warning a stage that has no closing check yet; none where a run must be finished first."""
    from acquire.live.words import unclosed_words  # noqa: PLC0415 - slow

    return [f"NOTE: {unclosed_words(stage)}" for stage in status["unclosed"]]
