"""`coatbench rescore`: points of trials by a scorecard, reckoned and kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import acting, bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError

if TYPE_CHECKING:
    from acquire.control.client import Client
    from acquire.model.scorecard import Scorecard


@click.command()
@click.argument("trials", nargs=-1, metavar="[TRIAL]...")
@click.option(
    "--scorecard",
    "named",
    required=True,
    metavar="FILE",
    help="The scorecard: a file, or the id of one that points were kept by before.",
)
@click.option("--quiet", is_flag=True, help="Keep the points and print one line a trial.")
@bench_option
def rescore(trials: tuple[str, ...], named: str, quiet: bool, bench: Path | None) -> int:
    """Reckon the points of each TRIAL by a scorecard, print them and keep them.

    Without TRIAL: of all trials of the store. Points of older trials can so be reckoned anew
    whenever a scorecard changes; its earlier versions and their points stay.

    A scorecard is kept as it was first used. A changed one needs a higher version.

    \b
    Example:  coatbench rescore gelcoat-1 --scorecard yard.toml
              coatbench rescore --scorecard yard.toml --quiet
    Next:     coatbench alltime shows all trials; coatbench report TRIAL has the points, too.
    """
    from acquire.report.points.rescoring import card_of, trials_of  # noqa: PLC0415 - slow

    store = store_of(bench)
    failed = 0
    # First of all: a store from before is brought up to date so.
    with acting(bench) as client:
        card = card_of(store, named)
        wanted = list(dict.fromkeys(trials)) or trials_of(store)
        if not wanted:
            say(["no trial is in the store yet, so there is nothing to score"])
            return NOT_DONE
        for trial in wanted:
            try:
                _one(client, store, trial, card, quiet=quiet or len(wanted) > 1)
            except CoatbenchError as error:
                if len(wanted) == 1:
                    raise
                # One trial that cannot be scored must not keep the others from it.
                failed += 1
                say([f"{trial}: NOT scored. {error}"], err=True)
    return NOT_DONE if failed else DONE


def _one(client: Client, store: Path, trial: str, card: Scorecard, *, quiet: bool) -> None:
    from acquire.cli.listing import show_table  # noqa: PLC0415 - slow
    from acquire.report.points.rescoring import scored  # noqa: PLC0415
    from acquire.report.points.scorelines import in_short, score_lines, score_tables  # noqa: PLC0415

    found = scored(store, trial, card)
    reply = client.call(
        "keep_score",
        text=card.text,
        source=card.name,
        trial=trial,
        edition=found.score.edition,
        rests_on=found.rests_on,
        points=found.points,
    )
    kept = "kept" if reply.get("is_new") else "as they were kept before"
    if quiet:
        say([f"{trial}: {in_short(found.score)}; {kept}"])
        return
    say(score_lines(found.score))
    for table in score_tables(found.score):
        say(["", table.title])
        show_table(table.rows)
    say(["", f"Points by {card.name}: {kept}.", "next: coatbench alltime"])
