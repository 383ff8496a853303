"""`coatbench wash`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.doubts import settle, work_doubts
from acquire.cli.faults import BROKEN_OFF, DONE
from acquire.cli.present import page_of, screen_options
from acquire.cli.reach import acting, bench_option, known_bench, load, reach, store_of
from acquire.cli.spoken import say
from acquire.errors import Misuse

if TYPE_CHECKING:
    from acquire.trial.work import Work

LARGEST = 1_000_000


@click.command()
@click.argument("trial")
@click.option("--zones", default="", metavar="A1,A2", help="Only these (default: all of the plan).")
@click.option("--count", type=click.IntRange(1, LARGEST), help="So many washes at once.")
@click.option("--correct", type=int, metavar="BY", help="Put a count right: -1, or 2.")
@click.option("--reason", default="", metavar="TEXT", help="With --correct: why.")
@click.option("--counter", metavar="NAME", help="Count by this counter of the bench.")
@click.option("--stop", is_flag=True, help="With --counter: let it count no more.")
@click.option("--show", is_flag=True, help="Only show the counts.")
@click.option("--yes", is_flag=True, help="Count what is out of order, without being asked.")
@screen_options
@bench_option
def wash(
    trial: str,
    zones: str,
    count: int | None,
    correct: int | None,
    reason: str,
    counter: str | None,
    stop: bool,
    show: bool,
    yes: bool,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Count the washes of TRIAL: one key a wash on a screen, or so many at once by --count.

    Zones that are washed together share a wash; without --zones that is every zone, the control
    too. The screen shows the count in large and says when a checkpoint is reached. A count never
    goes back by itself: --correct is a row of its own with its reason, and no count falls below
    zero or below a stage at which the zone was looked at. Leave the screen and come back as you
    like; every wash is stored before it is shown. What is out of order is asked about first: a
    wash before the product is on, or one after which a stage cannot be looked at any more.

    With --counter each stroke of a counter beside the wash (an instrument of kind counter in
    bench.toml) is a wash of the zones, or so many strokes as the trial's recipe says by
    strokes_per_wash. It goes on until q on the screen, or --stop. Strokes that came while it was
    unplugged, a count that leaps, goes back or starts again, and a stroke that is sent twice count
    for nothing by themselves, and it is said.

    \b
    Example:  coatbench wash gelcoat-1
              coatbench wash gelcoat-1 --count 5
              coatbench wash gelcoat-1 --counter hub
              coatbench wash gelcoat-1 --zones A1,A2 --correct -1 --reason "pressed twice"
    Next:     coatbench checkpoint TRIAL STAGE --by NAME, or coatbench run, as coatbench next says
    """
    if (correct is None) != (not reason):
        raise click.UsageError('--correct goes with --reason "why"')
    if sum((count is not None, correct is not None, show, counter is not None)) > 1:
        raise click.UsageError("say one of --count, --correct, --counter and --show")
    if stop and counter is None:
        raise click.UsageError("--stop goes with --counter NAME")
    named = [zone for zone in zones.replace(",", " ").split() if zone]
    if show:
        say([*_counts(store_of(bench), trial), *_uncounted(bench, trial)])
        return DONE
    if counter is not None:
        with reach(bench) as client:
            if stop:
                say(stopped_lines(client.call("stop_counting", counter=counter)))
                return DONE
            # Nobody can be asked at a stroke.
            settle(_doubts(bench, trial, named, 1), f"{counter} does not count", yes=yes)
            return _screen(bench, client, trial, named, plain=plain, quiet=quiet, counter=counter)
    if count is not None:
        settle(_doubts(bench, trial, named, count), f"this wash of {trial} is not counted", yes=yes)
    with acting(bench) as client:
        if correct is not None:
            call, more = "correct_washes", {"washes": correct, "reason": reason}
        elif count is not None:
            call, more = "wash", {"washes": count}
        else:
            return _screen(bench, client, trial, named, plain=plain, quiet=quiet)
        reply = client.call(call, trial=trial, zones=named, **more)
    say(page_of(reply.get("cautions") or ()))
    say(washed_lines(reply))
    return DONE


def _doubts(bench: Path | None, trial: str, named: Sequence[str], washes: int) -> Sequence[str]:
    from acquire.trial.outoforder import wash_doubts  # noqa: PLC0415

    def found(work: Work) -> Sequence[str]:
        return wash_doubts(
            work, [z.id for z in work.plan.zones if not named or z.id in named], washes
        )

    return work_doubts(bench, trial, found)


def _uncounted(bench: Path | None, trial: str) -> list[str]:
    """Strokes of a counter that no wash was counted for, a line each."""
    from acquire.cli.next import due_lines, strokes_of  # noqa: PLC0415
    from acquire.cli.works import Works  # noqa: PLC0415
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    with StoreReader(store_of(bench)) as store:
        plan = stored_plan(store.rows, trial)
        now_utc_ns = SystemClock().now().utc_ns
        found = strokes_of(Works(store, known_bench(bench)), plan, now_utc_ns)
    return due_lines(found) if found else []


def _screen(
    bench: Path | None,
    client: Any,
    trial: str,
    named: list[str],
    *,
    plain: bool,
    quiet: bool,
    counter: str = "",
) -> int:
    from acquire.cli.works import Works  # noqa: PLC0415
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import story_of  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.live.washboard import WashBoard, WashScreen  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.due import due_at  # noqa: PLC0415
    from acquire.trial.outoforder import wash_doubts  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    if terminal.plain and counter:
        ready = client.call("count_washes", trial=trial, zones=named, counter=counter)
        say([*page_of(ready.get("cautions") or ()), *counting_lines(trial, ready)])
        say(_uncounted(bench, trial))
        return DONE
    if terminal.plain:
        raise Misuse(
            "no wash is counted",
            got="no terminal to press keys at",
            wanted="a number of washes, or a terminal",
            next_step=f"coatbench wash {trial} --count 1",
        )
    path = store_of(bench)
    untold = _uncounted(bench, trial)
    if counter:
        ready = client.call("count_washes", trial=trial, zones=named, counter=counter)
    else:
        ready = client.call("to_wash", trial=trial, zones=named)
    with Feed(lambda: Client.of_store(path)) as feed, StoreReader(path) as store:
        plan = stored_plan(store.rows, trial)
        board = WashBoard(story_of(store), plan=plan, zones=tuple(ready["zones"]))
        own = load(bench)
        board.due_at = lambda stage: due_at(
            Works(store, own).of(plan), stage, terminal.clock.now().utc_ns
        )
        board.doubts = lambda zones: wash_doubts(Works(store, own).of(plan), zones, 1)
        board.recall(Worked(store.rows).washes(trial))
        board.page = page_of(ready.get("cautions") or ())
        board.uncounted = untold
        if counter:
            board.counts_by(ready)
        ending = terminal.present(WashScreen(board, glyphs_for(terminal.console.encoding)), feed)
    if ending.error is not None:
        raise ending.error
    say(board.state_lines().values())
    if counter and ending.how == "left":
        say(stopped_lines(client.call("stop_counting", counter=counter)))
    elif counter:
        step = f"coatbench wash {trial} --counter {counter}, or with --stop"
        say([f"{counter} goes on counting. Next: {step}"])
    say(["next: coatbench next"])
    return BROKEN_OFF if ending.how == "interrupted" else DONE


def counting_lines(trial: str, ready: Mapping[str, Any]) -> list[str]:
    """That a counter counts from now on, for what, and how it is ended."""
    from acquire.trial.readiness import names  # noqa: PLC0415

    counter, strokes = ready["counter"], ready["strokes_per_wash"]
    each = "each stroke" if strokes == 1 else f"every {strokes} strokes"
    stands = "" if ready["total"] is None else f"; its count is {ready['total']}"
    return [
        f"{counter} counts: {each} of it is a wash of {names(ready['zones'])}{stands}",
        f"the counts: coatbench wash {trial} --show",
        f"to end it: coatbench wash {trial} --counter {counter} --stop",
    ]


def stopped_lines(reply: Mapping[str, Any]) -> list[str]:
    """That a counter counts no more, and what was left of a wash."""
    if reply["trial"] is None:
        return [f"{reply['counter']} was counting no washes"]
    lines = [f"{reply['counter']} counts no washes of {reply['trial']} any more"]
    if reply["over"]:
        lines.append(
            f"{reply['over']} of {reply['strokes_per_wash']} strokes of a wash were made; they are "
            "no wash"
        )
    return lines


def _counts(store: Path, trial: str) -> list[str]:
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415
    from acquire.trial.washes import counts_of  # noqa: PLC0415

    with StoreReader(store) as reader:
        plan = stored_plan(reader.rows, trial)
        counts = counts_of(plan, Worked(reader.rows).washes(trial))
    return [count_line(counts)]


def washed_lines(reply: Mapping[str, Any]) -> list[str]:
    """What was counted, the counts, checkpoints reached, and what is next."""
    from acquire.trial.readiness import names, washed  # noqa: PLC0415

    by, zones, trial = int(reply["washes"]), reply["zones"], reply["trial"]
    lines = [
        f"counted: {washed(by)} of {names(zones)}"
        if by > 0
        else f"corrected by {by}: {names(zones)}",
        count_line(reply["counts"]),
    ]
    for one in reply["reached"]:
        stage, unread = one["stage"], one["unread"]
        if one["is_past"] and unread:
            lines.append(
                f"WENT PAST {stage} ({washed(one['washes'])}): {names(unread)} were not looked at "
                "there"
            )
            lines.append(
                f"next: coatbench wash {trial} --correct BY --reason TEXT if that was miscounted, "
                f"else coatbench next {trial}"
            )
        elif unread:
            lines.append(f"CHECKPOINT {stage} reached by {names(one['zones'])}")
            lines += [f"next: {look}" for look in one["looks"]]
    ahead = reply["next"]
    if ahead is not None:
        least = min(reply["counts"][zone] for zone in zones)
        lines.append(f"{washed(ahead['washes'] - least)} to go to {ahead['stage']}")
    return lines


def count_line(counts: Mapping[str, int]) -> str:
    """The counts of all zones, those that share one together."""
    from acquire.trial.readiness import names, washed  # noqa: PLC0415
    from acquire.trial.washes import shared  # noqa: PLC0415

    return "washes: " + "; ".join(f"{names(z)} {washed(n)}" for n, z in shared(counts))
