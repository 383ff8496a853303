"""`coatbench serve` and `coatbench stop`: the daemon's life."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from acquire.cli.doubts import settle
from acquire.cli.faults import DONE
from acquire.cli.judgedanew import before_start
from acquire.cli.reach import bench_file, bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, ControlError

if TYPE_CHECKING:
    from acquire.daemon import Daemon

STOP_WITHIN_S = 20.0
LOOK_EVERY_S = 0.05


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@bench_option
@click.option(
    "--simulated-usb",
    metavar="HOST:PORT",
    help="Look for USB devices on the bus of coatbench simulate.",
)
@click.option(
    "--yes", is_flag=True, help="Do not ask before checks are judged anew by another certificate."
)
def serve(file: Path | None, bench: Path | None, simulated_usb: str | None, yes: bool) -> int:
    """Run the daemon of a bench until Ctrl-C or coatbench stop.

    Opens every instrument of the bench file FILE, keeps it open, finds it again when it was
    unplugged, and records every reading at once. Leave it running in a terminal of its own: it
    says there, in a dated line each, when an instrument goes or comes, a check ends, a run waits.

    Where a certificate was withdrawn since, it says first which checks and readings rest on it,
    and asks: what does not pass by the one in its place is suspect for good.

    \b
    Example:  coatbench serve config/boatyard/bench.toml
    Next:     coatbench status in another terminal, then coatbench check INSTRUMENT
    """
    from acquire.daemon import serve as run_daemon  # noqa: PLC0415 - slow

    if file is not None and bench is not None:
        raise click.UsageError("name the bench file once: as FILE or with --bench")
    settle(
        before_start(bench_file(file or bench)),
        "no daemon is started, and nothing is judged anew",
        yes=yes,
        ahead="put the certificate right in the bench file; coatbench pieces lists what stands",
    )
    opening = {}
    if simulated_usb is not None:
        from acquire.testkit.far_usb import opener_on  # noqa: PLC0415 - for trying only

        opening["make_opener"] = opener_on(simulated_usb)
    status = run_daemon(bench_file(file or bench), ready=_say, attend=attend, **opening)
    if is_read(sys.stdout):
        say(["stopped; everything that was received is stored"])
    return status


def attend(daemon: Daemon) -> Callable[[], None]:
    """What is called once a second: tells what has changed at the bench since the last time."""
    from acquire.control.shapes import row_item  # noqa: PLC0415 - slow
    from acquire.live.bulletin import TABLES as TOLD  # noqa: PLC0415
    from acquire.live.bulletin import Bulletin  # noqa: PLC0415
    from acquire.store.rows import TABLES  # noqa: PLC0415

    bulletin, rows = Bulletin(), daemon.hub.watch()
    is_stale = True

    def fresh_lines() -> list[str]:
        nonlocal is_stale
        fresh = [row_item(row) for row in rows.pull(0)[0] if TABLES[type(row)] in TOLD]
        is_stale |= bool(fresh)
        return [text for item in fresh for text in bulletin.fold(item)]

    def look() -> None:
        nonlocal is_stale
        lines = fresh_lines()
        if is_stale:
            # A daemon that can no longer answer says why when it ends.
            with contextlib.suppress(CoatbenchError, TimeoutError):
                status, is_stale = daemon.answer("status", {}), False
                lines += fresh_lines()
                # Where a row came meanwhile, the next look tells how the bench stands after it.
                if not is_stale:
                    lines += bulletin.stand(status)
        for text in lines:
            if is_read(sys.stdout):
                say([text])

    return look


def is_read(stream: TextIO | None) -> bool:
    """Whether a line can be written without waiting: a full pipe must not hold the daemon up, nor
    a terminal that was closed end it in the midst of a line.
    """
    if stream is None:
        return False
    if os.name != "posix":
        return True
    try:
        poll = select.poll()
        poll.register(stream, select.POLLOUT)
        events = [event for _, event in poll.poll(0)]
        return bool(events) and not any(event & select.POLLHUP for event in events)
    except (OSError, ValueError):
        # No file of the system's, so nothing that could be full.
        return True


def _say(text: str) -> None:
    say(text.splitlines())


@click.command()
@bench_option
def stop(bench: Path | None) -> int:
    """Stop the daemon of the bench and wait until it has written everything.

    An open run stays open: after the next start it is offered to go on, under a fresh check.

    \b
    Example:  coatbench stop
    Next:     coatbench serve starts it again.
    """
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.control.client import Client  # noqa: PLC0415

    store = store_of(bench)
    # A daemon that ends quickly may hang up before its answer is read: its end is what counts.
    with Client.of_store(store) as client, contextlib.suppress(ControlError):
        client.call("stop")
    clock = SystemClock()
    begun = clock.now()
    await_end(store, lambda: clock.now().seconds_since(begun), threading.Event().wait)
    click.echo("the daemon has stopped; everything it received is stored")
    return DONE


def await_end(store: Path, waited_s: Callable[[], float], wait: Callable[[float], object]) -> None:
    """Wait until the daemon has closed its door and let go of the store. Raises `ControlError`."""
    from filelock import FileLock, Timeout  # noqa: PLC0415 - slow

    from acquire.control.door import door_path  # noqa: PLC0415

    door = door_path(store)
    while waited_s() < STOP_WITHIN_S:
        if not door.exists():
            try:
                with FileLock(f"{store}.lock", blocking=False):
                    return
            except Timeout:
                pass
        wait(LOOK_EVERY_S)
    raise ControlError(
        "the daemon was asked to stop and has not yet",
        got=f"it still holds {store}",
        wanted=f"an end within {STOP_WITHIN_S:.0f} s",
        next_step="see what coatbench serve prints; Ctrl-C there ends it, too",
    )
