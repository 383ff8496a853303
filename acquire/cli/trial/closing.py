"""`coatbench trial close` and `coatbench trial reopen`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import acting, bench_option
from acquire.cli.spoken import say


@click.command()
@click.argument("trial")
@click.option("--why", default="", metavar="TEXT", help="Why, in words.")
@bench_option
def close(trial: str, why: str, bench: Path | None) -> int:
    """End TRIAL: nothing of it is due any more. Its readings, report and export stay.

    \b
    Example:  coatbench trial close gelcoat-1 --why "all have worn off"
    Next:     coatbench report TRIAL; coatbench trial reopen TRIAL takes it back
    """
    with acting(bench) as client:
        client.call("close_trial", trial=trial, why=why)
    say([f"trial {trial} is closed", f"next: coatbench report {trial}"])
    return DONE


@click.command()
@click.argument("trial")
@click.option("--why", default="", metavar="TEXT", help="Why, in words.")
@bench_option
def reopen(trial: str, why: str, bench: Path | None) -> int:
    """Open a closed TRIAL again.

    \b
    Example:  coatbench trial reopen gelcoat-1 --why "ten more washes"
    Next:     coatbench trial show TRIAL
    """
    with acting(bench) as client:
        client.call("reopen_trial", trial=trial, why=why)
    say([f"trial {trial} is open", f"next: coatbench trial show {trial}"])
    return DONE
