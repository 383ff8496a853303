"""The command `coatbench`: its table of commands, and how it ends.

Each command lives in a module of its own, which is imported when the command is used; the one-line
help below stands here so that ``coatbench --help`` imports nothing. Main thread.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import click

from acquire import __version__
from acquire.cli.faults import (
    BROKEN_OFF,
    DONE,
    NOT_DONE,
    TROUBLE,
    bearable,
    code_of,
    fault_lines,
    unwritable,
)
from acquire.cli.lazy import Entry, LazyGroup
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError
from acquire.visible import visible

EPILOG = """\b
Exit status: 0 done
             1 not allowed, or a fault in what was given
             2 the command line itself was wrong
             3 trouble with the daemon, a device or the store
           130 broken off with Ctrl-C

Set NO_COLOR to do without colour; it never carries meaning alone.
"""

SECTIONS = {
    "Getting going": {
        "demo": Entry("acquire.cli.demo:demo", "Show the whole job on a simulated bench."),
        "simulate": Entry("acquire.cli.simulate:simulate", "Serve simulated devices to try on."),
        "learn": Entry("acquire.cli.learn:learn", "Learn how an undocumented meter talks."),
        "serve": Entry("acquire.cli.serve:serve", "Run the daemon of a bench."),
        "stop": Entry("acquire.cli.serve:stop", "Stop the daemon."),
        "devices": Entry("acquire.cli.devices:devices", "List what is plugged in."),
        "driver": Entry("acquire.cli.driver:driver", "List the drivers, and test one."),
    },
    "At the bench": {
        "status": Entry("acquire.cli.status:status", "How the bench stands."),
        "next": Entry("acquire.cli.next:next_due", "What is due today, with the command to type."),
        "watch": Entry("acquire.cli.watch:watch", "See everything that happens, live."),
        "pieces": Entry("acquire.cli.pieces:pieces", "List the reference pieces, and what is due."),
        "check": Entry("acquire.cli.check:check", "Check an instrument against its pieces."),
        "drift": Entry("acquire.cli.drift:drift", "How the meters hold, from their past checks."),
        "run": Entry("acquire.cli.run:run", "Take the readings of a trial's stage."),
        "study": Entry("acquire.cli.study:study", "How much a meter scatters, how long it warms."),
        "targets": Entry("acquire.cli.places:targets", "List the places of a run."),
        "readings": Entry("acquire.cli.places:readings", "List readings with their numbers."),
        "type": Entry(
            "acquire.cli.entries:type_in", "Type what an instrument without a port shows."
        ),
        "take": Entry("acquire.cli.readings:take", "Ask an instrument for a reading."),
        "void": Entry("acquire.cli.readings:void", "Take a reading out of the results."),
        "assign": Entry("acquire.cli.readings:assign", "Give a loose reading its place."),
        "note": Entry("acquire.cli.readings:note", "Keep a remark with the sitting."),
        "climate": Entry("acquire.cli.climate:climate", "Enter the climate of the room."),
        "clock": Entry("acquire.cli.clock:clock", "Say that the computer's clock is right."),
        "apply": Entry("acquire.cli.apply:apply", "Record that a product was put on zones."),
        "wash": Entry("acquire.cli.wash:wash", "Count washes, one key each."),
        "checkpoint": Entry(
            "acquire.cli.checkpoint:checkpoint", "Readings and ratings of a stage in one screen."
        ),
        "rate": Entry("acquire.cli.rate:rate", "Rate zones or products on written scales."),
        "photo": Entry("acquire.cli.photo:photo", "Record a photo by path and hash."),
        "close": Entry("acquire.cli.readings:close", "End the sitting."),
    },
    "Trials and results": {
        "trial": Entry("acquire.cli.trial:trial", "Plan a trial, see how it stands, unseal it."),
        "results": Entry("acquire.cli.standings:results", "Show who is better, and how sure."),
        "report": Entry("acquire.cli.results:report", "Write the page of a trial's results."),
        "rescore": Entry("acquire.cli.rescore:rescore", "Reckon points by a scorecard."),
        "alltime": Entry("acquire.cli.alltime:alltime", "Show all trials in one table."),
        "import": Entry("acquire.cli.import_past:import_past", "Take in results of earlier years."),
        "figures": Entry("acquire.cli.figures:figures", "Write the figures of a trial's page."),
        "captions": Entry("acquire.cli.captions:captions", "Write captions for a trial's film."),
        "package": Entry("acquire.cli.package:package", "Write all the data behind a trial."),
        "recompute": Entry(
            "acquire.cli.package:recompute", "Compute a package's results anew, and compare."
        ),
        "proof": Entry("acquire.cli.proof:proof", "Follow a reading back to its bytes."),
        "tape": Entry("acquire.cli.tape:tape", "List, show and cut the recorded bytes."),
        "replay": Entry("acquire.cli.replay:replay", "Play a tape against the day it was made."),
        "store": Entry("acquire.cli.store:store", "Look whether the store is as it was recorded."),
        "export": Entry("acquire.cli.results:export", "Write readings as CSV or JSON lines."),
        "verify": Entry("acquire.cli.verify:verify", "Hold the calculations against check values."),
    },
}


@click.group(
    cls=LazyGroup,
    sections=SECTIONS,
    epilog=EPILOG,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--bench",
    type=click.Path(path_type=Path),
    envvar="COATBENCH_BENCH",
    metavar="FILE",
    help="The bench file (default: bench.toml here). Also taken from COATBENCH_BENCH.",
)
@click.version_option(__version__, prog_name="coatbench")
@click.pass_context
def coatbench(ctx: click.Context, bench: Path | None) -> None:
    """From the press of a meter's button to a checked, stored, explained result.

    \b
    The way through a trial (shore is a meter of the bench, gelcoat-1 the trial's id):
      coatbench demo                               all of it, on simulated devices
      coatbench serve                              the daemon, in a terminal of its own
      coatbench trial new                          the plan, by a few questions
      coatbench check shore                        the meter against its reference pieces
      coatbench run gelcoat-1 bare --with shore    the readings, zone by zone
      coatbench check shore                        the closing check
      coatbench next                               over weeks: what is due, with what to type
      coatbench report gelcoat-1                   the page of results
    """
    ctx.obj = bench


def main() -> None:
    """The console script."""
    # Settings are read by our own rules alone; to look among all packages for others takes longer
    # than to read them.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # No matrix here is so large that a second thread would help, and threads that wait for one
    # take a fifth of a command's processor.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A terminal that lacks a sign gets a question mark and no traceback.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = run(sys.argv[1:])
    except OSError:  # the fault itself could not be told
        _give_up(sys.stderr)
        code = TROUBLE
    # All of it ends with the process: Python need not look several times for what of it is
    # garbage, which takes an eighth of a command that made much.
    gc.freeze()
    sys.exit(code)


def run(arguments: Sequence[str]) -> int:
    """Run one command line; gives the exit status. Expected errors are told once, on stderr."""
    try:
        code = coatbench.main(list(arguments), prog_name="coatbench", standalone_mode=False)
        # What is not out by now would fail after everything else, with nobody to tell of it.
        if sys.stdout is not None:
            sys.stdout.flush()
    except CoatbenchError as error:
        say(fault_lines(error, arguments), err=True)
        return code_of(error)
    except click.ClickException as error:
        # It repeats what was typed, or pasted.
        shown = io.StringIO()
        error.show(shown)
        click.echo(visible(bearable(shown.getvalue(), arguments), "\n"), err=True, nl=False)
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("broken off", err=True)
        return BROKEN_OFF
    except BrokenPipeError:
        _give_up(sys.stdout)
        return NOT_DONE
    except OSError as error:
        _give_up(sys.stdout)
        fault = unwritable(error)
        say(fault_lines(fault, arguments), err=True)
        return code_of(fault)
    return code if isinstance(code, int) else DONE


def _give_up(stream: TextIO | None) -> None:
    """Nobody takes any more of this stream, and nothing may be flushed into it at exit."""
    with contextlib.suppress(OSError, ValueError):
        if stream is not None:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
