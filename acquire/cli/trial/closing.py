"""`coatbench trial close`, `reopen` and `give-up`."""

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


@click.command("give-up")
@click.argument("trial")
@click.argument("stage")
@click.option("--zones", default="", metavar="A1,A2", help="Only these (default: all with a gap).")
@click.option("--why", required=True, metavar="TEXT", help="Why, in words; the report says it.")
@click.option("--take-back", is_flag=True, help="The stage is wanted again.")
@bench_option
def give_up(
    trial: str, stage: str, zones: str, why: str, take_back: bool, bench: Path | None
) -> int:
    """Set down that what is still open at STAGE of TRIAL will not be read or rated.

    A surface may be gone: nobody reads a zone bare that has its product on, nor after five washes
    one that had ten. What was read there stays and counts as it does. coatbench next is quiet about
    the rest, and the report says what was given up, when and why.

    \b
    Example:  coatbench trial give-up gelcoat-1 wash-5 --why "washed on before the check failed"
              coatbench trial give-up gelcoat-1 bare --zones A1 --why "waxed too early"
    Next:     coatbench next
    """
    named = [zone for zone in zones.replace(",", " ").split() if zone]
    call = "take_back_stage" if take_back else "give_up_stage"
    with acting(bench) as client:
        reply = client.call(call, trial=trial, stage=stage, zones=named, why=why)
    what = "is wanted again" if take_back else "is given up"
    say([f"recorded: {stage} {what} of {', '.join(reply['zones'])}", "next: coatbench next"])
    return DONE
