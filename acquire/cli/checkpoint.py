"""`coatbench checkpoint`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.doubts import tell_doubts
from acquire.cli.faults import BROKEN_OFF, DONE, NOT_DONE
from acquire.cli.meters import chosen_meter
from acquire.cli.present import caution_page, screen_options
from acquire.cli.rate import left_line
from acquire.cli.reach import bench_option, load, store_of
from acquire.cli.run import begun_words, finish_lines
from acquire.cli.spoken import say


@click.command()
@click.argument("trial")
@click.argument("stage")
@click.option(
    "--with",
    "instrument",
    metavar="INSTRUMENT",
    help="The instrument that measures; may be left out where only one can.",
)
@click.option("--by", "rater", required=True, metavar="NAME", help="Who rates.")
@click.option("--measure", metavar="ID", help="The measure, where the trial has several.")
@screen_options
@bench_option
def checkpoint(
    trial: str,
    stage: str,
    instrument: str | None,
    rater: str,
    measure: str | None,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Take the readings of TRIAL at STAGE and rate each zone right after its readings.

    A run like any other, under a valid check, with the scales of the plan in the same screen: when
    the last reading of a zone is in, its steps stand there, and one digit rates it. The plan is
    the stored one of TRIAL. A run that was left is gone on with by coatbench run --resume, and
    coatbench rate gives the ratings that are missing.

    \b
    Example:  coatbench checkpoint gelcoat-1 wash-5 --with shore --by Ines
    Next:     coatbench check shore (the closing check), then coatbench next
    """
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.live.checkpointboard import CheckpointBoard, CheckpointScreen  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import places_of, recall, story_of  # noqa: PLC0415
    from acquire.live.ratingqueue import RatingQueue  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.ratings import things  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    path = store_of(bench)
    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    with Client.of_store(path) as client, StoreReader(path) as store:
        plan = stored_plan(store.rows, trial)
        if instrument is None:
            instrument, told = chosen_meter(load(bench), plan, stage, measure)
            say(told)
        tell_doubts(path, plan, stage, asks=not terminal.plain)
        with Feed(lambda: Client.of_store(path)) as feed:
            reply = client.call(
                "begin_run",
                text=plan.text,
                source=trial,
                measure=measure,
                stage=stage,
                instrument=instrument,
            )
            run_id = int(reply["run_id"])
            taken = store.rows("SELECT measure FROM run WHERE id = ?", (run_id,))[0]["measure"]
            chosen = plan.measure(taken)
            board = CheckpointBoard(
                story_of(store),
                run_id=run_id,
                meter=instrument,
                places=places_of(store, run_id),
                queue=RatingQueue(
                    plan, rater, things(plan, stage), Worked(store.rows).ratings(trial)
                ),
                last_replicate=chosen.replicates if chosen is not None else 1,
            )
            recall(board, store, terminal.clock.now().utc_ns)
            board.page = caution_page(reply)
            if begun := begun_words(reply):
                board.say(". ".join(begun))
            glyphs = glyphs_for(terminal.console.encoding)
            ending = terminal.present(CheckpointScreen(board, glyphs), feed)
        left = len(board.own_queue.left())
    if ending.error is not None:
        raise ending.error
    if left:
        say([left_line(left, trial, stage, rater)])
    if ending.how == "ended":
        ended = board.run or {"instrument": instrument}
        say(finish_lines({"run_id": run_id, "slots_left": ending.open_slots}, ended))
        return NOT_DONE if ending.open_slots and terminal.plain else DONE
    say([f"run {run_id} stays open. Next: coatbench run --resume comes back to it"])
    return BROKEN_OFF if ending.how == "interrupted" else DONE
