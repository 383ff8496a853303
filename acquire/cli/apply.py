"""`coatbench apply`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.present import page_of
from acquire.cli.reach import acting, bench_option
from acquire.cli.spoken import say


@click.command()
@click.argument("trial")
@click.argument("zones", nargs=-1, metavar="[ZONE]...")
@click.option("--treatment", default="", metavar="T", help="All zones of T; or a guard on ZONE.")
@click.option("--amount", default="", metavar="TEXT", help='How much, such as "4 ml".')
@click.option(
    "--haze-minutes",
    type=click.FloatRange(0, 100_000),
    metavar="MINUTES",
    help="How long it took to haze.",
)
@click.option("--at", "when", metavar="TIME", help="When, such as 14:30 (default: now).")
@click.option("--note", default="", metavar="TEXT", help="What else is to be remembered.")
@bench_option
def apply(
    trial: str,
    zones: tuple[str, ...],
    treatment: str,
    amount: str,
    haze_minutes: float | None,
    when: str | None,
    note: str,
    bench: Path | None,
) -> int:
    """Record that a product was put on zones of TRIAL: how much, when, how long to haze.

    From then on cure times count ([trial.cure_hours] of the trial file), and coatbench next says
    when a zone may be measured. The same zone again is a second coat. Of a blind trial name zones;
    who applies the products learns them by coatbench trial key TRIAL --to NAME.

    \b
    Example:  coatbench apply gelcoat-1 B2 --amount "4 ml" --haze-minutes 3
              coatbench apply gelcoat-1 --treatment grebe --at 14:30
    Next:     coatbench rate TRIAL --products, then coatbench next
    """
    from acquire.cli.moments import moment_ns  # noqa: PLC0415
    from acquire.clock import SystemClock  # noqa: PLC0415

    at_ns = None if when is None else moment_ns(when, SystemClock().now().utc_ns)
    with acting(bench) as client:
        reply = client.call(
            "apply",
            trial=trial,
            zones=list(zones),
            treatment=treatment,
            amount=amount,
            haze_minutes=haze_minutes,
            applied_utc_ns=at_ns,
            text=note,
        )
    say(page_of(reply.get("cautions") or ()))
    say(applied_lines(reply))
    return DONE


def applied_lines(reply: dict[str, object]) -> list[str]:
    """What was recorded, what should have come before, and what is next."""
    from acquire.model import from_utc_ns  # noqa: PLC0415

    coats, bare = reply["coats"], reply["not_read_bare"]
    assert isinstance(coats, dict)
    assert isinstance(bare, list)
    at = from_utc_ns(int(str(reply["applied_utc_ns"]))).astimezone()
    told = ", ".join(z if n == 1 else f"{z} (coat {n})" for z, n in coats.items())
    lines = [f"recorded: {told}, at {at:%Y-%m-%d %H:%M}"]
    if bare:
        lines.append(f"NOT READ BARE: {', '.join(bare)}. Without it no change can be told of them")
    return [*lines, "next: coatbench next says when they may be measured"]
