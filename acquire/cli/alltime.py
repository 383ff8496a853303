"""`coatbench alltime`: every trial of the store in one table by a scorecard."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say


@click.command()
@click.option(
    "--scorecard",
    metavar="ID",
    help="The id of the scorecard (default: every one that points were kept by).",
)
@bench_option
def alltime(scorecard: str | None, bench: Path | None) -> int:
    """Show every product of every trial in one table, by the points that were kept.

    Says which totals may be compared with one another and which may not, and why: other geometry,
    band or weights, panel, sled, wash recipe, looks, scale, version of the scorecard, items without
    points, unchecked readings. Each such group has a table of its own. Figures that were imported
    stand below, marked as imported and unchecked.

    Points whose readings, voids, checks, ratings or plan have changed since are marked OUT OF DATE.
    Exit status 1 then.

    \b
    Example:  coatbench alltime --scorecard yard
    Next:     coatbench rescore --scorecard yard reckons what is out of date.
    """
    from acquire.cli.listing import show_table  # noqa: PLC0415 - slow
    from acquire.report.points.alltime import all_time, past_groups, scorecards_of  # noqa: PLC0415
    from acquire.report.points.alltimelines import (  # noqa: PLC0415
        due,
        past_lines,
        past_tables,
        tables,
        told,
    )

    store = store_of(bench)
    names = [scorecard] if scorecard else scorecards_of(store)
    past = past_groups(store)
    if not names and not past:
        say(
            [
                "No points were kept and nothing was imported yet.",
                "next: coatbench rescore --scorecard FILE",
            ]
        )
        return DONE
    stale = False
    for number, name in enumerate(names):
        found = all_time(store, name)
        say([""] if number else [])
        say(told(found))
        for table in tables(found):
            say(["", table.title])
            show_table(table.rows)
        lines = due(found)
        say(["", *lines] if lines else [])
        stale |= bool(found.stale or found.damaged)
    if past:
        say([*([""] if names else []), *past_lines(past)])
        for table in past_tables(past):
            say(["", table.title])
            show_table(table.rows)
    return NOT_DONE if stale else DONE
