"""`coatbench study`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import BROKEN_OFF, NOT_DONE
from acquire.cli.present import caution_page, screen_options
from acquire.cli.reach import bench_option, load, store_of
from acquire.cli.spoken import say
from acquire.cli.studies import list_studies, show_found, show_study
from acquire.errors import NotFound, Refused

if TYPE_CHECKING:
    from acquire.live.board import Ending
    from acquire.live.feed import Feed
    from acquire.live.terminal import Terminal
    from acquire.store.reader import StoreReader

SPOTS, READINGS, WARM_UP_READINGS = 5, 10, 60
"""45 degrees of freedom know a scatter to a fifth; 60 readings are an hour of minutes."""


@click.command()
@click.argument("instrument", required=False)
@click.option("--repeatability", is_flag=True, help="Spots read again and again (the default).")
@click.option("--warm-up", is_flag=True, help="One surface from switch-on until it is warm.")
@click.option("--by", "people", multiple=True, metavar="NAME", help="Who reads; once a person.")
@click.option("--spots", type=click.IntRange(1, 100), help=f"How many spots (default {SPOTS}).")
@click.option(
    "--readings",
    type=click.IntRange(2, 1000),
    help=f"Readings a spot and person (default {READINGS}; warm-up {WARM_UP_READINGS}).",
)
@click.option("--on", default="", metavar="TEXT", help="What is read, in words.")
@click.option(
    "--want",
    type=click.FloatRange(min=0, min_open=True),
    metavar="DIFFERENCE",
    help="Also say how many readings show this net change.",
)
@click.option("--resume", is_flag=True, help="Go on with the study that is not finished.")
@click.option("--list", "listing", is_flag=True, help="The studies, and which is in use.")
@click.option("--show", metavar="STUDY", help="The verdict of one study again.")
@click.option("--json", "as_json", is_flag=True, help="With --list or --show: as JSON.")
@screen_options
@bench_option
def study(
    instrument: str | None,
    repeatability: bool,
    warm_up: bool,
    people: tuple[str, ...],
    spots: int | None,
    readings: int | None,
    on: str,
    want: float | None,
    resume: bool,
    listing: bool,
    show: str | None,
    as_json: bool,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Find out how much INSTRUMENT scatters on this bench, or how long it has to warm up.

    Leads through the spots as a run does, under a valid check, and ends with the verdict: what
    single readings scatter by, what difference two of them can show, and how many readings a
    wanted difference needs. With --by NAME --by NAME each person reads every spot, and the
    verdict says how much people differ. Results, outlier flags and planning then use the figure.

    A warm-up study is read without a check, since none holds for a cold meter; its readings count
    for no result. Begin with the instrument cold, switch it on when told, and press again and
    again, about once a minute: the times are taken as they come.

    Exit status 0 only for a study that gave a figure.

    \b
    Example:  coatbench study shore
              coatbench study shore --by ines --by jonas --spots 5 --readings 10
              coatbench study shore --warm-up
              coatbench study --list
    Next:     coatbench check shore (the closing check)
    """
    begins = instrument is not None
    if begins + resume + listing + (show is not None) != 1:
        raise click.UsageError("say an INSTRUMENT, or one of --resume, --list and --show STUDY")
    if as_json and not (listing or show):
        raise click.UsageError("--json goes with --list or --show")
    if (people or spots or readings or on or repeatability or warm_up) and not begins:
        raise click.UsageError("what a study is to be like goes with an INSTRUMENT")
    if warm_up and (repeatability or people or spots):
        raise click.UsageError("a warm-up study is of one spot, by whoever presses")
    if listing:
        return list_studies(bench, as_json=as_json)
    if show is not None:
        return show_study(bench, show, want, as_json=as_json)
    from acquire.control.client import Client  # noqa: PLC0415 - slow
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    path = store_of(bench)
    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    with (
        Client.of_store(path) as client,
        Feed(lambda: Client.of_store(path)) as feed,
        StoreReader(path) as store,
    ):
        if instrument is not None:
            text = _text(
                store,
                bench,
                instrument,
                is_warm_up=warm_up,
                spots=spots,
                readings=readings,
                people=people,
                on=on,
            )
            return _lead(client, terminal, feed, store, instrument, text, want)
        return go_on(client, terminal, feed, store, want)


def go_on(
    client: Any, terminal: Terminal, feed: Feed, store: StoreReader, want: float | None = None
) -> int:
    """Lead through what is left of the study that is not finished. Raises `Refused`."""
    instrument, text = _unfinished(store, client)
    return _lead(client, terminal, feed, store, instrument, text, want)


def _text(
    store: StoreReader,
    bench: Path | None,
    instrument: str,
    *,
    is_warm_up: bool,
    spots: int | None,
    readings: int | None,
    people: tuple[str, ...],
    on: str,
) -> str:
    """The plan of a new study. Raises `NotFound` and `Misuse`."""
    from acquire.model import StudyKind  # noqa: PLC0415 - slow
    from acquire.schema import unlike_id  # noqa: PLC0415
    from acquire.study.found import next_number  # noqa: PLC0415
    from acquire.study.writing import Wanted, study_text  # noqa: PLC0415

    found = load(bench).instruments
    spec = next((i for i in found if i.id == instrument), None)
    if spec is None:
        raise NotFound(
            f"the bench has no instrument {instrument!r}",
            wanted=", ".join(i.id for i in found),
            next_step="name one of these (coatbench status)",
        )
    for name in people:
        if fault := unlike_id(name):
            raise click.UsageError(f"--by {name!r}: wanted {fault}")
    if len(set(people)) < len(people):
        raise click.UsageError("each person once")
    wanted = Wanted(
        kind=StudyKind.WARM_UP if is_warm_up else StudyKind.REPEATABILITY,
        instrument=instrument,
        quantity=spec.kind,
        channels=spec.policy.channels,
        spots=1 if is_warm_up else spots or SPOTS,
        readings=readings or (WARM_UP_READINGS if is_warm_up else READINGS),
        people=people,
        on=on or ("one surface that stays as it is" if is_warm_up else "a panel, marked spots"),
    )
    return study_text(next_number(store), wanted)


def _unfinished(store: StoreReader, client: Any) -> tuple[str, str]:
    """Instrument and plan of the study to go on with. Raises `Refused`."""
    from acquire.study.found import studies  # noqa: PLC0415 - slow

    status = client.call("status")
    running = status["run"] or status["interrupted"]
    found = studies(store)
    for one in reversed(found):
        if running is not None and running["trial"] == one.id:
            return str(running["instrument"]), one.plan.text
    if running is not None:
        raise Refused(
            "another run is not finished",
            reason="run open",
            got=f"run {running['run_id']} ({running['trial']}, {running['stage']})",
            next_step="coatbench run --resume goes on with it, coatbench run --finish ends it",
        )
    if found and found[-1].open_places:
        return found[-1].instrument, found[-1].plan.text
    raise Refused(
        "there is no study to go on with",
        reason="nothing to resume",
        got=f"{found[-1].name}, which has all its readings" if found else "no study",
        next_step="begin one: coatbench study INSTRUMENT",
    )


def _lead(
    client: Any,
    terminal: Terminal,
    feed: Feed,
    store: StoreReader,
    instrument: str,
    text: str,
    want: float | None,
) -> int:
    """One run a person, then the verdict."""
    from acquire.settings import parse_plan  # noqa: PLC0415 - slow
    from acquire.study.found import studies  # noqa: PLC0415

    plan = parse_plan(text, "the study")
    # What is wanted is no part of the study, so nobody else remembers it.
    again = "coatbench study --resume" + ("" if want is None else f" --want {want:g}")
    for stage in plan.stages:
        try:
            run_id, reply = _begin(client, instrument, plan.id, stage, text)
        except Refused as error:
            if error.reason == "nothing left":
                continue
            if any(s.id == plan.id for s in studies(store)):
                say([f"{plan.id} waits. Next: what follows, then {again}"])
            raise
        ending = _present(terminal, feed, store, (run_id, instrument), stage, reply)
        if ending.error is not None:
            raise ending.error
        if ending.how != "ended":
            say([f"{plan.id} stays open. Next: {again} goes on with it"])
            return BROKEN_OFF if ending.how == "interrupted" else NOT_DONE
        if ending.open_slots:
            break
    return show_found(store, plan.id, want)


def _begin(
    client: Any, instrument: str, study_id: str, stage: str, text: str
) -> tuple[int, dict[str, Any]]:
    """The run of a person: the one that is open or interrupted, or a new one. Raises `Refused`."""
    status = client.call("status")
    for run, call in ((status["run"], ""), (status["interrupted"], "resume_run")):
        if run is not None and run["trial"] == study_id:
            if run["stage"] != stage:
                # The stages before it have their readings, or were left by finishing them.
                raise Refused("read already", reason="nothing left")
            return int(run["run_id"]), client.call(call) if call else {}
    reply: dict[str, Any] = client.call(
        "begin_run", text=text, source="coatbench study", stage=stage, instrument=instrument
    )
    return int(reply["run_id"]), reply


def _present(
    terminal: Terminal,
    feed: Feed,
    store: StoreReader,
    run: tuple[int, str],
    stage: str,
    reply: dict[str, Any],
) -> Ending:
    from acquire.live.past import run_board  # noqa: PLC0415 - slow
    from acquire.live.runscreen import RunScreen  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.study.writing import ALONE, SWITCHED_ON  # noqa: PLC0415

    now_utc_ns = terminal.clock.now().utc_ns
    board = run_board(store, *run, now_utc_ns, caution_page(reply))
    if stage == SWITCHED_ON:
        board.say(
            f"switch {run[1]} on now, from cold, leave it on one surface and press about once a "
            "minute until it is done"
        )
    else:
        who = "" if stage == ALONE else f"{stage} reads. "
        board.say(
            f"{who}lift {run[1]} off and set it down again between presses, as in a trial: so its "
            "handling is in the figure"
        )
    return terminal.present(RunScreen(board, glyphs_for(terminal.console.encoding)), feed)
