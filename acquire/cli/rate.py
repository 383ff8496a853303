"""`coatbench rate`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from acquire.cli.faults import BROKEN_OFF, DONE
from acquire.cli.present import screen_options
from acquire.cli.reach import acting, bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import NotFound
from acquire.trial.people import shown_name, typed_name


@click.command()
@click.argument("trial")
@click.argument("stage", required=False)
@click.option("--products", is_flag=True, help="Rate the products, not zones at a STAGE.")
@click.option("--by", "rater", required=True, metavar="NAME", help="Who rates.")
@click.option("--scale", metavar="ID", help="Only this scale.")
@click.option("--zone", metavar="ZONE", help="With --step: the zone.")
@click.option("--product", metavar="ID", help="With --step: the product, by its id or code.")
@click.option("--step", type=click.IntRange(min=1), help="Rate one thing, without a screen.")
@click.option("--reason", default="", metavar="TEXT", help="Why a rating is given anew.")
@screen_options
@bench_option
def rate(
    trial: str,
    stage: str | None,
    products: bool,
    rater: str,
    scale: str | None,
    zone: str | None,
    product: str | None,
    step: int | None,
    reason: str,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Rate the zones of TRIAL at STAGE on the scales of its plan, or its products.

    Leads through zone by zone with the steps written out: one key a step. What is on a zone is
    not shown, and of a blind trial nobody sees more than codes. Several people rate one after the
    other, each under their own name; how far they agree is in the results. What was rated can be
    rated again with a reason; both stay. Who was shown the key is marked as not blind.

    \b
    Example:  coatbench rate gelcoat-1 applied --by Ines
              coatbench rate gelcoat-1 --products --by Ines
              coatbench rate gelcoat-1 wash-5 --by Ines --scale water --zone A1 --step 3
    Next:     coatbench rate ... --by ANOTHER, then coatbench next
    """
    if (stage is None) != products:
        raise click.UsageError("say a STAGE, or --products")
    if (step is None) != (zone is None and product is None):
        raise click.UsageError("--step goes with --zone or --product, and they with it")
    with acting(bench) as client:
        if step is None:
            found = (trial, stage, rater, scale)
            return _screen(bench, found, plain=plain, quiet=quiet)
        if scale is None:
            raise click.UsageError("--step goes with --scale, too")
        reply = client.call(
            "rate",
            trial=trial,
            scale=scale,
            stage=stage or "",
            zone=zone or "",
            treatment=product or "",
            rater=rater,
            step=step,
            reason=reason,
        )
    before = f" (before: {reply['before']})" if reply["before"] else ""
    marked = [f"NOTE: {reply['not_blind']}"] if reply["not_blind"] else []
    say(
        [
            f"rated by {shown_name(reply['rater'])}: {reply['thing']}, {reply['words']}{before}",
            *marked,
        ]
    )
    return DONE


def _screen(
    bench: Path | None,
    found: tuple[str, str | None, str, str | None],
    *,
    plain: bool,
    quiet: bool,
) -> int:
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import story_of  # noqa: PLC0415
    from acquire.live.rateboard import RateBoard, RateScreen  # noqa: PLC0415
    from acquire.live.ratingqueue import RatingQueue  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.blinding import shown_plan  # noqa: PLC0415
    from acquire.trial.ratings import not_blind_words, things  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    trial, stage, rater, scale = found
    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    path = store_of(bench)
    with Feed(lambda: Client.of_store(path)) as feed, StoreReader(path) as store:
        plan = shown_plan(store.rows, stored_plan(store.rows, trial))
        wanted = [t for t in things(plan, stage) if scale in (None, t.scale)]
        if not wanted:
            raise _nothing(plan, stage)
        worked = Worked(store.rows)
        marked = not_blind_words(plan, worked.key_openings(plan.key_digest), rater)
        queue = RatingQueue(plan, rater, wanted, worked.ratings(trial))
        board = RateBoard(story_of(store), queue=queue)
        ending = terminal.present(RateScreen(board, glyphs_for(terminal.console.encoding)), feed)
        left = len(queue.left())
    if ending.error is not None:
        raise ending.error
    if marked:
        say([f"NOTE: {marked}"])
    if left:
        say([left_line(left, trial, stage or "--products", rater)])
    else:
        say([f"all is rated by {shown_name(rater)}", "next: coatbench next"])
    return BROKEN_OFF if ending.how == "interrupted" else DONE


def left_line(left: int, trial: str, what: str, rater: str) -> str:
    """How many ratings a rater has still to give, and the command that goes on with them."""
    plural = "" if left == 1 else "s"
    return f"{left} rating{plural} left: coatbench rate {trial} {what} --by {typed_name(rater)}"


def _nothing(plan: Any, stage: str | None) -> NotFound:
    at = sorted({s for scale in plan.scales for s in scale.stages}, key=plan.stages.index)
    return NotFound(
        f"nothing is rated of {plan.id} {'as a product' if stage is None else f'at {stage}'}",
        got=f"scales {', '.join(s.id for s in plan.scales)}" if plan.scales else "no scale",
        wanted=f"a stage with a scale: {', '.join(at)}" if at else "a [[scale]] in the trial file",
        next_step="coatbench trial show " + plan.id,
    )
