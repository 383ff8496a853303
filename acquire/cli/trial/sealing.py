"""`coatbench trial key` and `coatbench trial unseal`: who is told which product each code is."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import BROKEN_OFF, DONE
from acquire.cli.listing import Cells, listed, show_table
from acquire.cli.reach import acting, bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import Misuse

if TYPE_CHECKING:
    from acquire.model import Plan

_PAPER = 10_000
"""Columns of a sheet in a file: none of its lines is wrapped."""


@click.command()
@click.argument("trial")
@click.option("--to", "who", required=True, metavar="NAME", help="Who is told; this is recorded.")
@click.option("--why", default="", metavar="TEXT", help="Why, in words.")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write the sheet to a new file; this screen then names no product.",
)
@bench_option
def key(trial: str, who: str, why: str, out: Path | None, bench: Path | None) -> int:
    """Tell one person which product each code of the blind TRIAL is: who puts the products on.

    Prints a sheet: code, product, and the zones where it goes. To whom it was shown is recorded,
    and reports say it. Whoever takes readings or rates should not be told before they have.

    \b
    Example:  coatbench trial key gelcoat-1 --to "Jonas" --out sheet.txt
    Next:     coatbench apply TRIAL, when the products are on
    """
    if out is not None:
        _require_free(out)
    plan = _plan(bench, trial)
    with acting(bench) as client:
        reply = client.call("show_key", trial=trial, who=who, why=why)
    rows = _sheet(plan, reply["products"])
    if out is None:
        show_table(rows)
    else:
        _write(out, plan, rows, who)
        say([f"written: {out}"])
    # On standard error, so that a sheet in a pipe is the sheet alone.
    say([f"recorded: the key of {trial} was shown to {who}"], err=True)
    return DONE


@click.command()
@click.argument("trial")
@click.option("--by", "who", required=True, metavar="NAME", help="Who unseals; this is recorded.")
@click.option("--why", default="", metavar="TEXT", help="Why now, in words.")
@click.option("--yes", is_flag=True, help="Do not ask whether it is meant.")
@bench_option
def unseal(trial: str, who: str, why: str, yes: bool, bench: Path | None) -> int:
    """Tell everybody which product each code of the blind TRIAL is.

    From then on page, results and export name the products beside their codes, and say when and
    by whom the key was unsealed, and what was read or rated after that. This cannot be undone:
    take all readings and ratings first.

    \b
    Example:  coatbench trial unseal gelcoat-1 --by "Ines" --why "all washes done"
    Next:     coatbench report TRIAL
    """
    plan = _plan(bench, trial)
    if not yes and not _is_meant(trial):
        say([f"the key of {trial} stays sealed"], err=True)
        return BROKEN_OFF
    with acting(bench) as client:
        reply = client.call("unseal", trial=trial, who=who, why=why)
    if reply["was_unsealed"]:
        say([f"the key of {trial} was unsealed before; this time is recorded, too"])
    else:
        say([f"recorded: {who} unsealed the key of {trial}"])
    show_table(_sheet(plan, reply["products"]))
    say([f"next: coatbench report {trial}"])
    return DONE


def _is_meant(trial: str) -> bool:
    if not sys.stdin.isatty():
        raise Misuse(
            f"the key of {trial} stays sealed",
            got="nobody at a terminal to be asked",
            wanted="a yes, since it cannot be sealed again",
            next_step="say it beforehand: --yes",
        )
    return click.confirm(
        f"Unseal the key of {trial}? Whatever is read or rated from now on is not blind"
    )


def _plan(bench: Path | None, trial: str) -> Plan:
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415 - slow

    with StoreReader(store_of(bench)) as store:
        return stored_plan(store.rows, trial)


def _sheet(plan: Plan, products: Mapping[str, Any]) -> list[Cells]:
    """Headings, and a row a code with its product and zones; the control stays as it is."""
    rows: list[Cells] = [("code", "product", "zones")]
    for treatment in plan.treatments:
        zones = " ".join(z.id for z in plan.zones if z.treatment == treatment.id)
        if treatment.is_control:
            rows.append(("-", f"{treatment.name}: nothing is put on", zones))
        else:
            rows.append((treatment.id, str(products.get(treatment.id, "")), zones))
    return rows


def _require_free(out: Path) -> None:
    if out.exists():
        raise Misuse(
            f"{out} is not written over",
            got="a file is there",
            wanted="a new path",
            next_step="name another file with --out",
        )


def _write(out: Path, plan: Plan, rows: list[Cells], who: str) -> None:
    # For the eyes of one person, as far as a file's permissions go.
    with open(out, "x", encoding="utf-8", opener=partial(os.open, mode=0o600)) as file:
        file.write(f"Trial {plan.id}: {plan.title}\nFor {who} alone.\n\n")
        for line in listed(rows, _PAPER):
            file.write(line + "\n")
