"""`coatbench trial new`."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextvars import ContextVar
from pathlib import Path
from typing import Any

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option
from acquire.cli.spoken import say
from acquire.visible import visible

ENTROPY: ContextVar[Callable[[int], bytes]] = ContextVar("entropy", default=os.urandom)
"""Where secret chance comes from; the demo alone has one of its own, to give the same again."""

DESIGNS = ("complete-blocks", "latin-square", "random")


@click.command()
@click.option("--id", "trial_id", metavar="ID", help="Short name, for commands and files.")
@click.option("--title", metavar="TEXT", help="What is compared, in a line.")
@click.option("--product", "products", multiple=True, metavar="NAME", help="Once a product.")
@click.option("--control", metavar="NAME", help="What the untreated control is called.")
@click.option("--panel", "panels", multiple=True, metavar="NAME", help="Once a panel.")
@click.option("--material", metavar="TEXT", help="What the panels are of.")
@click.option("--grid", metavar="ROWSxCOLUMNS", help="Zones of each panel, such as 3x6.")
@click.option("--zones", metavar="N", help="Zones a product, where --grid is not given.")
@click.option("--measure", "measures", multiple=True, metavar="NAME",
              help="gloss-20, gloss-60, gloss-85 (or gloss-20-60), slickness, "
              "transmission-315-400, transmission-380-780 or another band in nm; once a "
              "measure.")  # fmt: skip
@click.option("--sled", metavar="MASS", help='Of slickness: the sled, such as "203.0 g".')
@click.option("--sled-uncertainty", metavar="MASS", help='Its standard uncertainty, "0.1 g".')
@click.option("--stage", "stages", multiple=True, metavar="NAME",
              help="Before washing, the bare one first; once a stage (bare, applied).")  # fmt: skip
@click.option("--washes", metavar="N,N,...", help="Counts after which it is measured: 5,10,20.")
@click.option("--recipe", metavar="TEXT", help="How one wash is done: shampoo; dilution; pressure; "
              "mitt; order, with ; between.")  # fmt: skip
@click.option("--gone-when-lost", metavar="SHARE", help="Of its gain, and a product is gone (0.5).")
@click.option("--cure-hours", metavar="HOURS", help="From application to the first measurement.")
@click.option("--want", "wanted", multiple=True, metavar="MEASURE=DIFFERENCE",
              help="The smallest difference that matters, in the unit of the results.")  # fmt: skip
@click.option("--replicates", multiple=True, metavar="MEASURE=N", help="Readings of each zone.")
@click.option("--scale", "scales", multiple=True, metavar="NAME",
              help="A written scale: water, application, removal, look, dust, smell, or a file of "
              "your own; none for no scale.")  # fmt: skip
@click.option("--design", type=click.Choice(DESIGNS), help="Default: the best that fits the grid.")
@click.option("--seed", metavar="N", help="Of the layout; the same seed deals the same again.")
@click.option("--blind/--open", "blind", default=None, help="Hide the products behind codes, or "
              "not.")  # fmt: skip
@click.option("--unchecked", is_flag=True, help="For good: readings count without a valid check.")
@click.option("--yes", is_flag=True, help="Ask nothing: what is not given is as proposed.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), metavar="PATH",
              help="The trial file, a new one (default: ID.toml here).")  # fmt: skip
@bench_option
def new(bench: Path | None, out: Path | None, yes: bool, **given: Any) -> int:
    """Plan a trial: asks a few questions, deals the products to zones, and writes the trial file.

    On a terminal it asks for what no option gives, each with a proposal: Enter takes it. Without a
    terminal, or with --yes, what is not given is as proposed; only the products must be named.
    After Ctrl-C it says the command with what was typed so far.

    Zones a product and readings a zone are proposed by how much readings and zones scattered on
    this bench, and the difference that is wanted; it says by which figure. The layout is drawn
    from a recorded seed: a Latin square where rows, columns and treatments (with the control) are
    as many, complete blocks where they fit, else all zones at once.

    With --blind the products get codes. Which is which says a key, which is sealed in the store;
    file, screens and reports name no product until it is unsealed. So it needs a bench file: a
    copy of config/boatyard/bench.toml will do, or a simulated bench (coatbench simulate).

    \b
    Example:  coatbench trial new
              coatbench trial new --title "Winter waxes" --product "Grebe wax" \\
                --product "Gull oil" --measure gloss-20 --want 1 --washes 5,10 --blind --yes
    Next:     coatbench trial show ID
    """
    from acquire.cli.trial.asking import Asking, AtTerminal  # noqa: PLC0415 - slow
    from acquire.cli.trial.planning import planned  # noqa: PLC0415
    from acquire.cli.trial.recalled import recalled  # noqa: PLC0415
    from acquire.cli.trial.saving import found_bench, save  # noqa: PLC0415

    asks = sys.stdin.isatty() and sys.stdout.isatty() and not yes
    asking = Asking(AtTerminal() if asks else None)
    own = found_bench(bench)
    try:
        drafted = planned(asking, given, own, ENTROPY.get())
    except (KeyboardInterrupt, EOFError):
        told, command = recalled(click.get_current_context(), asking.typed)
        if command:
            say(["", told])
            # In one line, whatever the terminal's width: it is to be copied.
            click.echo(visible(command))
        raise
    save(drafted, own, bench, out)
    return DONE
