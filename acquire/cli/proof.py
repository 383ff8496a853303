"""`coatbench proof`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say


@click.command()
@click.argument("number", type=click.IntRange(min=1))
@bench_option
def proof(number: int, bench: Path | None) -> int:
    """Follow reading NUMBER back to the bytes that came down the cable.

    Shows its place, the checks and certificates that cover it and its bytes, and plays the stored
    tape through the driver and profile of then: they must give the same reading again.

    \b
    Example:  coatbench proof 87
    Next:     coatbench report TRIAL names the numbers of all readings.
    """
    from acquire.report.proof import prove  # noqa: PLC0415 - slow

    found = prove(store_of(bench), number)
    say(found.lines)
    return DONE if found.holds else NOT_DONE
