"""`coatbench run`."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.doubts import tell_doubts
from acquire.cli.faults import BROKEN_OFF, DONE, NOT_DONE
from acquire.cli.meters import chosen_meter
from acquire.cli.present import caution_page, screen_options
from acquire.cli.reach import bench_option, load, store_of
from acquire.cli.spoken import say
from acquire.errors import NotFound, Refused

if TYPE_CHECKING:
    from acquire.store.reader import StoreReader


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.argument("stage", required=False)
@click.option(
    "--with",
    "instrument",
    metavar="INSTRUMENT",
    help="The instrument that measures; may be left out where only one can.",
)
@click.option("--measure", metavar="ID", help="The measure, where the trial has several.")
@click.option("--resume", is_flag=True, help="Go back to the run that is open or interrupted.")
@click.option("--finish", is_flag=True, help="End the run that is open or interrupted.")
@click.option("--why", default="", metavar="TEXT", help="With --finish: the reason, in words.")
@screen_options
@bench_option
def run(
    file: Path | None,
    stage: str | None,
    instrument: str | None,
    measure: str | None,
    resume: bool,
    finish: bool,
    why: str,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Take the readings of trial file FILE at STAGE; FILE may be the id of a trial that is kept.

    Shows where the next reading belongs and puts each press of the meter there, in the order of
    the plan. Starts only under a valid check. Keys on the screen skip, go back, void and finish;
    ? lists them. In plain output the run finishes by itself when every place is filled.

    \b
    Example:  coatbench run trial.toml bare --with shore
              coatbench run --resume
              coatbench run --finish --why "rain"
    Next:     coatbench check shore (the closing check), then coatbench next
    """
    begins = bool(file and stage)
    if resume + finish + begins != 1 or ((resume or finish) and (file or instrument)):
        raise click.UsageError(
            "say FILE STAGE --with INSTRUMENT to begin a run, or --resume, or --finish alone; "
            "coatbench next names the stage that is due"
        )
    # All of it is slow to import, and only this command needs it.
    from acquire.cli.study import go_on  # noqa: PLC0415
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import run_board  # noqa: PLC0415
    from acquire.live.runscreen import RunScreen  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.settings import parse_plan  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    path = store_of(bench)
    if begins:
        assert file is not None
        assert stage is not None
        text, source = _plan_text(path, file)
        plan = parse_plan(text, source)
        if instrument is None:
            instrument, told = chosen_meter(load(bench), plan, stage, measure)
            say(told)
    with Client.of_store(path) as client:
        if begins:
            assert stage is not None
            # With input that nobody types, as for plain lines, it is only told.
            tell_doubts(path, plan, stage, asks=not plain)
        if finish:
            status = client.call("status")
            ended = status["run"] or status["interrupted"] or {}
            say(finish_lines(client.call("finish_run", why=why), ended))
            return DONE
        terminal = Terminal.of_process(plain=plain, quiet=quiet)
        with Feed(lambda: Client.of_store(path)) as feed, StoreReader(path) as store:
            if resume:
                if _is_of_study(client, store):
                    # The next person reads then, and the verdict comes last.
                    return go_on(client, terminal, feed, store)
                run_id, meter, reply = _resumed(client)
            else:
                assert instrument is not None
                reply = client.call(
                    "begin_run",
                    text=text,
                    source=source,
                    measure=measure,
                    stage=stage,
                    instrument=instrument,
                )
                run_id, meter = int(reply["run_id"]), instrument
            now_utc_ns = terminal.clock.now().utc_ns
            board = run_board(store, run_id, meter, now_utc_ns, caution_page(reply))
            if begun := begun_words(reply):
                board.say(". ".join(begun))
            ending = terminal.present(RunScreen(board, glyphs_for(terminal.console.encoding)), feed)
    if ending.error is not None:
        raise ending.error
    if ending.how == "ended":
        ended = board.run or {"instrument": meter}
        say(finish_lines({"run_id": run_id, "slots_left": ending.open_slots}, ended))
        return NOT_DONE if ending.open_slots and terminal.plain else DONE
    say(
        [
            f"run {run_id} stays open. Next: coatbench run --resume comes back to it, "
            "coatbench run --finish ends it"
        ]
    )
    return BROKEN_OFF if ending.how == "interrupted" else DONE


def _plan_text(store: Path, file: Path) -> tuple[str, str]:
    """The plan of a file and its name, or that of a trial with this id as it is stored."""
    from acquire.schema import load_text  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    if not file.exists():
        # What is neither is told as a file that is not there.
        with contextlib.suppress(NotFound), StoreReader(store) as reader:
            return stored_plan(reader.rows, str(file)).text, str(file)
    return load_text(file), str(file)


def _is_of_study(client: Any, store: StoreReader) -> bool:
    """Whether the run that is open or interrupted is of a study."""
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    status = client.call("status")
    left = status["run"] or status["interrupted"]
    return left is not None and stored_plan(store.rows, left["trial"]).study is not None


def _resumed(client: Any) -> tuple[int, str, dict[str, Any]]:
    """Number and instrument of the run that is open, or that is now gone on with."""
    status = client.call("status")
    if status["run"] is not None:
        return int(status["run"]["run_id"]), str(status["run"]["instrument"]), {}
    broken = status["interrupted"]
    if broken is None:
        raise Refused(
            "there is no run to go back to",
            reason="nothing to resume",
            got="no run that is open or interrupted",
            next_step="begin one: coatbench run FILE STAGE --with INSTRUMENT",
        )
    reply = client.call("resume_run")
    return int(reply["run_id"]), str(broken["instrument"]), reply


def begun_words(reply: Mapping[str, Any]) -> list[str]:
    """What whoever has begun a run should know before the first press."""
    told: list[str] = []
    if changes := reply.get("plan_changes"):
        told.append(f"the plan has changed since it was last used: {'; '.join(changes)}")
    if zones := reply.get("bare_open"):
        told.append(
            f"NOT READ BARE: {', '.join(zones)}. Without it no change can be told of them. Next: "
            "where no product is on yet, finish this run (f) and take the bare stage first"
        )
    return told


def finish_lines(reply: Mapping[str, Any], run: Mapping[str, Any]) -> list[str]:
    """That a run has ended, and what is next; `run` is how the status had it."""
    left, report = reply["slots_left"], f"coatbench report {run.get('trial') or 'TRIAL'}"
    check = f"coatbench check {run.get('instrument') or 'INSTRUMENT'} (the closing check)"
    taken = (
        "every place is filled"
        if not left
        else f"{left} place{' is' if left == 1 else 's are'} still open"
    )
    return [
        f"run {reply['run_id']} is finished; {taken}",
        # Where no check was wanted none closes anything.
        f"next: {report}; every page of it says UNCHECKED"
        if run.get("unchecked")
        else f"next: {check}, then coatbench next",
    ]
