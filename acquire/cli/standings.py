"""`coatbench results`: decisions, pairs, places and chances of a trial, and its budgets checked."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.results import FORMS, Held, fits, form_of, output
from acquire.cli.spoken import say


@click.command()
@click.argument("trial", required=False)
@click.option("--short", is_flag=True, help="Only who won what, and how sure that is.")
@click.option("--check-budgets", is_flag=True, help="Check the uncertainty of every net change.")
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMS),
    help="One row a result, for a program (default with --out: by its ending, else csv).",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write the rows to this file, whole or not at all.",
)
@click.option("--columns", is_flag=True, help="Only explain the columns of the rows.")
@bench_option
def results(
    trial: str | None,
    short: bool,
    check_budgets: bool,
    form: str | None,
    out: Path | None,
    columns: bool,
    bench: Path | None,
) -> int:
    """Show what came out of TRIAL: each treatment against the control and against each other one.

    With its place among all, ties called ties, and its chance to be truly the best. The same
    figures as on the page of `coatbench report`, which has the uncertainty budgets, too.

    With --short it says in a few lines what stands at the top of that page.

    With --check-budgets the budget of every net change is checked by other roads than the one it
    was made by: its sums from its lines, the model shaken reading by reading, and all errors drawn
    by their laws (JCGM 101). Exit status 1 where one does not hold.

    \b
    Example:  coatbench results gelcoat-1
              coatbench results gelcoat-1 --short
              coatbench results gelcoat-1 --out results.csv
              coatbench results gelcoat-1 --check-budgets
    Next:     coatbench report TRIAL writes the page; coatbench export TRIAL the readings.
    """
    if columns:
        from acquire.report.rows.resultrows import COLUMNS  # noqa: PLC0415 - slow

        say(f"{column.name:<23}  {column.meaning}" for column in COLUMNS)
        return DONE
    if trial is None:
        raise click.UsageError("say which TRIAL")
    for option, is_given in (("--check-budgets", check_budgets), ("--short", short)):
        if is_given and (form or out):
            raise click.UsageError(f"{option} writes no rows; leave out --format and --out")
    if short and check_budgets:
        raise click.UsageError("say one of --short and --check-budgets")
    store = store_of(bench)
    load = Held(store)
    if out is not None:
        from acquire.report.rows.resultrows import write_rows_file  # noqa: PLC0415 - slow

        count = write_rows_file(store, trial, form or form_of(out), out, load)
        say([f"written: {out}, {count} row{'' if count == 1 else 's'}"])
    elif form is not None:
        from acquire.report.rows.resultrows import write_rows  # noqa: PLC0415 - slow

        write_rows(store, trial, form, output(), load)
    elif check_budgets:
        return _checked(load, trial)
    elif short:
        from acquire.report.terminal.shortlines import short_lines  # noqa: PLC0415 - slow

        say(short_lines(store, trial, load))
    else:
        _shown(load, trial)
    return fits(store, trial, load)


def _shown(load: Held, trial: str) -> None:
    from acquire.cli.listing import show_table  # noqa: PLC0415 - slow
    from acquire.report.terminal.resultlines import told  # noqa: PLC0415

    found = told(load.store, trial, load)
    say(found.lines)
    for table in found.tables:
        say(["", table.title])
        show_table(table.rows)


def _checked(load: Held, trial: str) -> int:
    from acquire.report.terminal.resultlines import check_budgets  # noqa: PLC0415 - slow

    found = check_budgets(load.store, trial, load)
    say(found.lines)
    return fits(load.store, trial, load) if found.holds else NOT_DONE
