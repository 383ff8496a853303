"""`coatbench check`."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import BROKEN_OFF, DONE, NOT_DONE
from acquire.cli.present import caution_page, page_of, screen_options
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import ControlError, Misuse

if TYPE_CHECKING:
    from acquire.live.feed import Feed
    from acquire.live.terminal import Terminal


@click.command()
@click.argument("instrument")
@click.option("--abandon", is_flag=True, help="Break off the check that is under way.")
@click.option("--yes", is_flag=True, help="With --abandon: do not ask.")
@click.option(
    "--adjusted",
    is_flag=True,
    help="It was re-adjusted, and does not tell so by itself: every earlier check is void.",
)
@click.option(
    "--on",
    "on_piece",
    metavar="PIECE",
    help="It is on PIECE, which the check is at, however far from it it reads: its presses count.",
)
@screen_options
@bench_option
def check(
    instrument: str,
    abandon: bool,
    yes: bool,
    adjusted: bool,
    on_piece: str | None,
    plain: bool,
    quiet: bool,
    bench: Path | None,
) -> int:
    """Check an instrument against its reference pieces.

    Names the piece to put the meter on and how often to press, shows each reading as it arrives,
    and ends with the verdict. Only a pass lets a run start; the same check again at the end of
    the work is the closing check. A check that is under way already is gone on with.

    A press that slipped is taken out with v on the screen, or with coatbench void --last: its
    piece is then read anew in full, once a check.

    --abandon says what comes of breaking the check off: it is judged by what was read. Where a
    piece was found outside, which makes readings suspect for good, it asks first; --yes says so
    beforehand.

    When you re-adjust a meter by its own button, check it before (as found) and after (as left);
    a meter that does not tell of it by itself is told of with --adjusted. Readings that were not
    closed by a check as found stay without a closing check: that is said first, and on a terminal
    asked about.

    Presses that look like another piece's are refused. Where the meter is on the piece after all
    and reads it that wrong, i on the screen says so, or the same command with --on PIECE from
    another terminal: its presses then count, and the check fails by them.

    A run of the meter that is open waits meanwhile, and goes on after a pass.

    Where lines are written (--plain, or no terminal) nothing is read from standard input: press
    the meter's button, or type what it shows by coatbench type from elsewhere.

    Exit status 0 only for a pass.

    \b
    Example:  coatbench check shore
    Next:     coatbench run FILE STAGE --with shore
    """
    # All of it is slow to import, and only this command needs it.
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.drift.asked import told_of  # noqa: PLC0415
    from acquire.live.checkscreen import CheckScreen  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import check_board, recall  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.live.tone import Tone  # noqa: PLC0415
    from acquire.live.verdict import verdict  # noqa: PLC0415
    from acquire.model import iso_utc  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    path = store_of(bench)
    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    with Client.of_store(path) as client:
        if abandon:
            if not _is_meant(client, path, instrument, yes=yes):
                say([f"the check goes on. Next: coatbench check {instrument}"])
                return NOT_DONE
            client.call("abandon_check", instrument=instrument)
            click.echo(f"the check of {instrument} is abandoned")
            return DONE
        if on_piece is not None:
            client.call("insist_piece", instrument=instrument, piece=on_piece)
            click.echo(f"{instrument} is on {on_piece}, as you say: its presses count. Press again")
            return DONE
        waiting, goes_on = _said_before(client, path, instrument, terminal, adjusted=adjusted)
        if not goes_on:
            return BROKEN_OFF
        with Feed(lambda: Client.of_store(path)) as feed, StoreReader(path) as store:
            if not terminal.plain and not _cautioned(client, terminal, feed):
                say([f"no check of {instrument} was begun. Next: coatbench check {instrument}"])
                return BROKEN_OFF
            check_id, page = _begin(client, instrument)
            board = check_board(store, check_id)
            recall(board, store, terminal.clock.now().utc_ns)
            begun = terminal.clock.now().utc_ns
            for text in told_of(store, instrument, begun):
                board.story.add(iso_utc(begun), "", text, Tone.TROUBLE)
            if waiting and not terminal.plain:
                board.story.add(iso_utc(begun), "", waiting, Tone.PLAIN)
            board.page = page if terminal.plain else ()
            ending = terminal.present(
                CheckScreen(board, glyphs_for(terminal.console.encoding)), feed
            )
            if ending.error is not None:
                raise ending.error
            if ending.how == "ended":
                stands = _stands(client)
                warned = told_of(store, instrument, terminal.clock.now().utc_ns)
                passed, lines = verdict(
                    store,
                    check_id,
                    terminal.clock.now().utc_ns,
                    has_run=any(stands.get(kind) is not None for kind in ("run", "interrupted")),
                    reopened=stands.get("reopened", ()),
                    renewals=_renewals(stands, instrument),
                )
                if passed and lines[-1].endswith(f"coatbench run FILE STAGE --with {instrument}"):
                    lines[-1] = _ahead(bench, instrument) or lines[-1]
                # Before the last line, which says what is next.
                say([*lines[:-1], *warned])
                say([*_recomputed(path, check_id, stands), lines[-1]])
                return DONE if passed else NOT_DONE
    say(
        [
            f"check {check_id} of {instrument} stays under way. Next: coatbench check "
            f"{instrument} goes on with it, coatbench check {instrument} --abandon breaks it off"
        ]
    )
    return BROKEN_OFF if ending.how == "interrupted" else NOT_DONE


def _is_meant(client: Any, path: Path, instrument: str, *, yes: bool) -> bool:
    """Say what breaking the check off does, and ask where it makes readings suspect for good.

    Raises `Misuse` where nobody sits at a terminal to be asked.
    """
    from acquire.live.before_check import abandoning, at_stake  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    status = client.call("status")
    own = next((i for i in status["instruments"] if i["id"] == instrument), None)
    if own is None or own["checking"] is None:
        return True
    with StoreReader(path) as store:
        comes = abandoning(own, at_stake(store, status, instrument))
    if not own["checking"]["outside"] or yes:
        say([comes] if comes else [])
        return True
    if not sys.stdin.isatty():
        raise Misuse(
            f"the check of {instrument} is not broken off",
            got=comes,
            wanted="a yes, and nobody is at a terminal to be asked",
            next_step=f"coatbench check {instrument} --abandon --yes, where it is meant",
        )
    say([comes])
    return click.confirm("break it off?")


def _said_before(
    client: Any, path: Path, instrument: str, terminal: Terminal, *, adjusted: bool
) -> tuple[str, bool]:
    """Say what the check does to a run, tell of the re-adjustment, and whether to go on.

    What a re-adjustment cuts off from a closing check nothing brings back, so a person at a
    terminal is asked; where nobody sits it is said and done.
    """
    from acquire.live.before_check import left_unclosed, run_waits  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    status = client.call("status")
    waiting = run_waits(status, instrument)
    say([waiting] if waiting else [])
    if adjusted:
        with StoreReader(path) as store:
            cut_off = left_unclosed(store, status, instrument)
        say([cut_off] if cut_off else [])
        if cut_off and not terminal.plain and not click.confirm("keep it as re-adjusted?"):
            say([f"nothing was changed. Next: coatbench check {instrument} (as found)"])
            return waiting, False
        client.call("readjusted", instrument=instrument)
        click.echo(f"{instrument} is kept as re-adjusted; the check that follows is as left")
    return waiting, True


def _recomputed(path: Path, check_id: int, stands: Mapping[str, Any]) -> list[str]:
    """What became of results where this check, or an adjustment before it, made some suspect."""
    from acquire.store.placed import ADJUSTED_BEFORE  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    suspects = stands.get("suspects")
    with StoreReader(path) as store:
        is_adjusted = bool(store.rows(ADJUSTED_BEFORE, (check_id,)))
    is_by_check = not stands or (suspects is not None and suspects["check_id"] == check_id)
    if not is_adjusted and not is_by_check:
        return []
    from acquire.report.answers.recomputed import recomputed_lines  # noqa: PLC0415 - slow

    return recomputed_lines(path, check_id)


def _ahead(bench: Path | None, instrument: str) -> str:
    """The most urgent of what is due with the instrument, or at all; empty where nothing is."""
    from acquire.cli.next import dues  # noqa: PLC0415 - slow

    found = [due for due in dues(bench) if due.trial and due.command]
    own = [due for due in found if f"--with {instrument}" in due.command]
    return next((f"next: {due.command}" for due in (*own, *found)), "")


def _stands(client: Any) -> dict[str, Any]:
    """How the bench stands. The verdict is told even if nobody answers any more."""
    try:
        found: dict[str, Any] = client.call("status")
    except ControlError:
        return {}
    return found


def _renewals(stands: dict[str, Any], instrument: str) -> list[str]:
    """Words on certificates behind the check that are due soon or overdue."""
    from acquire.live.words import renewal_words  # noqa: PLC0415 - slow

    own = (one for one in stands.get("instruments", ()) if one["id"] == instrument)
    return [text for one in own for text in renewal_words(one)]


def _cautioned(client: Any, terminal: Terminal, feed: Feed) -> bool:
    """Show the cautions before the first check of a sitting; False if they were not left by a key.

    They cover the screen, so no press may count for a piece that nobody sees.
    """
    from acquire.cautions import cautions  # noqa: PLC0415 - slow
    from acquire.live.cautionscreen import CautionBoard, CautionScreen  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.story import Story  # noqa: PLC0415
    from acquire.model import Quantity  # noqa: PLC0415

    status = client.call("status")
    if status["sitting"] is not None:
        return True
    page = page_of(cautions({Quantity(own["kind"]) for own in status["instruments"]}))
    board = CautionBoard(Story(), page=page)
    ending = terminal.present(CautionScreen(board, glyphs_for(terminal.console.encoding)), feed)
    if ending.error is not None:
        raise ending.error
    return board.is_read


def _begin(client: Any, instrument: str) -> tuple[int, Any]:
    """The check under way, or a new one, with the cautions where it opened the sitting."""
    for own in client.call("status")["instruments"]:
        if own["id"] == instrument and own["checking"] is not None:
            click.echo(f"a check of {instrument} is under way; going on with it")
            return int(own["checking"]["check_id"]), ()
    reply = client.call("begin_check", instrument=instrument)
    return int(reply["check_id"]), caution_page(reply)
