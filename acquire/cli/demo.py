"""`coatbench demo`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

import click


@click.command()
@click.option("--fast", is_flag=True, help="Without the pauses that make it easy to follow.")
@click.option(
    "--keep",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Keep store, tapes and report in this folder.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31 - 1),
    default=1,
    show_default=True,
    help="The same seed gives the same numbers.",
)
def demo(fast: bool, keep: Path | None, seed: int) -> int:
    """Show the whole job on a bench of simulated devices.

    A small boatyard compares invented protectants on a dark gelcoat panel, with six instruments on
    all kinds of wire: opening checks, a study, a blind plan, bare readings, treatments, readings
    again, washes, ratings, a meter whose drift is seen coming and which is refused, a failed
    closing check that makes readings suspect, points, page, captions and a data package that is
    computed anew. Needs no instrument and takes about a minute.

    \b
    Example:  coatbench demo --keep boatyard
    Next:     open the pages it names; then describe your own bench in bench.toml.
    """
    from acquire.demo import run_demo  # noqa: PLC0415 - slow

    return run_demo(shell_of(seed), fast=fast, keep=keep, seed=seed)


def shell_of(seed: int) -> Callable[[Sequence[str]], int]:
    """What runs the command lines of the demo, here and now.

    Codes of a blind trial are drawn from the seed, and not in secret, so that a demo can be played
    again with the same numbers.
    """
    from acquire.cli.entry import run  # noqa: PLC0415 - would be a circle
    from acquire.cli.trial.new import ENTROPY  # noqa: PLC0415 - slow

    drawn = Random(seed)  # noqa: S311 - no secret is kept by it

    def shell(words: Sequence[str]) -> int:
        before = ENTROPY.set(drawn.randbytes)
        try:
            return run(words)
        finally:
            ENTROPY.reset(before)

    return shell
