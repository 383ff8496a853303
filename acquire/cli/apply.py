"""`coatbench apply`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.present import page_of
from acquire.cli.reach import acting, bench_option
from acquire.cli.spoken import say
from acquire.errors import NotFound

if TYPE_CHECKING:
    from acquire.model import Plan


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
@click.option("--take-back", is_flag=True, help="The last application there was told wrongly.")
@click.option("--reason", default="", metavar="TEXT", help="With --take-back: why.")
@click.option("--yes", is_flag=True, help="Record what is out of order, without being asked.")
@bench_option
def apply(
    trial: str,
    zones: tuple[str, ...],
    treatment: str,
    amount: str,
    haze_minutes: float | None,
    when: str | None,
    note: str,
    take_back: bool,
    reason: str,
    yes: bool,
    bench: Path | None,
) -> int:
    """Record that a product was put on zones of TRIAL: how much, when, how long to haze.

    From then on cure times count ([trial.cure_hours] of the trial file), and coatbench next says
    when a zone may be measured. Of a blind trial name zones; who applies the products learns them
    by coatbench trial key TRIAL --to NAME.

    It asks before it records what is out of order: another coat, a zone that was washed already,
    one that was not read bare in full. --take-back takes back the last application of each zone
    that is named, with the reason; both stay in the store, and the report says it.

    \b
    Example:  coatbench apply gelcoat-1 B2 --amount "4 ml" --haze-minutes 3
              coatbench apply gelcoat-1 --treatment grebe --at 14:30
              coatbench apply gelcoat-1 B2 --take-back --reason "it was B3"
    Next:     coatbench rate TRIAL --products, then coatbench next
    """
    from acquire.cli.doubts import settle, work_doubts  # noqa: PLC0415
    from acquire.cli.moments import moment_ns  # noqa: PLC0415
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.trial.outoforder import application_doubts  # noqa: PLC0415

    if bool(reason) != take_back:
        raise click.UsageError('--take-back goes with --reason "why"')
    if take_back:
        say(_taken_back(trial, zones, treatment, reason, bench))
        return DONE
    now_ns = SystemClock().now().utc_ns
    at_ns = None if when is None else moment_ns(when, now_ns)
    doubts = work_doubts(
        bench,
        trial,
        lambda work: application_doubts(
            work, _meant(work.plan, zones, treatment), now_ns if at_ns is None else at_ns
        ),
    )
    settle(doubts, f"this application of {trial} is not recorded", yes=yes)
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
    """What was recorded, and what is next."""
    from acquire.model import from_utc_ns  # noqa: PLC0415

    coats, treatments = reply["coats"], reply["treatments"]
    assert isinstance(coats, dict)
    assert isinstance(treatments, dict)
    at = from_utc_ns(int(str(reply["applied_utc_ns"]))).astimezone()
    found: dict[tuple[str, int], list[str]] = {}
    for zone, number in coats.items():
        found.setdefault((treatments[zone], number), []).append(zone)
    told = "; ".join(
        f"{on} on {', '.join(own)}{'' if number == 1 else f' (coat {number})'}"
        for (on, number), own in found.items()
    )
    return [
        f"recorded: {told}, at {at:%Y-%m-%d %H:%M}",
        "next: coatbench next says when they may be measured",
    ]


def _meant(plan: Plan, zones: Sequence[str], treatment: str) -> list[str]:
    """The zones of the plan that are named, or have the treatment; strange ones are told later."""
    return [z.id for z in plan.zones if z.id in zones or (not zones and z.treatment == treatment)]


def _taken_back(
    trial: str, zones: Sequence[str], treatment: str, reason: str, bench: Path | None
) -> list[str]:
    """Take back the last application of each zone that is meant, named by what was recorded."""
    from acquire.cli.reach import store_of  # noqa: PLC0415
    from acquire.model import from_utc_ns  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    with StoreReader(store_of(bench)) as reader:
        meant = _meant(stored_plan(reader.rows, trial), zones, treatment)
        last = {row.zone: row for row in Worked(reader.rows).applications(trial)}
    missing = [zone for zone in zones or meant if zone not in last]
    if missing or not meant:
        raise NotFound(
            "nothing is taken back",
            got=f"no application that stands of {', '.join(missing) or 'no zone'}",
            wanted=", ".join(last) or "a zone with an application; none stands",
            next_step=f"coatbench apply {trial} ZONE... --take-back --reason TEXT",
        )
    chosen = [last[zone] for zone in meant]
    with acting(bench) as client:
        numbers = [row.id for row in chosen]
        client.call("take_back_application", trial=trial, applications=numbers, reason=reason)
    return [
        *(
            f"taken back: the application of {row.zone} at "
            f"{from_utc_ns(row.applied_utc_ns).astimezone():%Y-%m-%d %H:%M}"
            for row in chosen
        ),
        "next: coatbench next",
    ]
