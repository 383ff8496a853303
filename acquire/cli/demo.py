"""`coatbench demo`."""

from __future__ import annotations

from pathlib import Path

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
    all kinds of wire: opening checks, bare readings, treatments, readings again, a meter whose
    drift is seen coming and which is refused, a failed closing check that makes readings suspect,
    report. Needs no instrument and takes half a minute.

    \b
    Example:  coatbench demo --keep boatyard
    Next:     open the pages it names; then describe your own bench in bench.toml.
    """
    from acquire.demo import run_demo  # noqa: PLC0415 - slow

    return int(run_demo(fast=fast, keep=keep, seed=seed) or 0)
