"""`coatbench watch`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.present import screen_options
from acquire.cli.reach import bench_option, store_of


@click.command()
@screen_options
@bench_option
def watch(plain: bool, quiet: bool, bench: Path | None) -> int:
    """See everything that happens at the bench, live; look only, nothing is changed.

    The last reading, every instrument and its check, the open run, and what happened: readings
    accepted and not accepted with the reason, noise, troubles, voids. q or Ctrl-C leaves.

    \b
    Example:  coatbench watch --quiet
    Next:     coatbench void NUMBER, coatbench assign NUMBER, with the numbers that are shown
    """
    # All of it is slow to import, and only this command needs it.
    from acquire.control.client import Client  # noqa: PLC0415
    from acquire.live.feed import Feed  # noqa: PLC0415
    from acquire.live.past import recall, story_of  # noqa: PLC0415
    from acquire.live.screen import glyphs_for  # noqa: PLC0415
    from acquire.live.terminal import Terminal  # noqa: PLC0415
    from acquire.live.watchscreen import WatchBoard, WatchScreen  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    path = store_of(bench)
    terminal = Terminal.of_process(plain=plain, quiet=quiet)
    with Feed(lambda: Client.of_store(path)) as feed:
        with StoreReader(path) as store:
            board = WatchBoard(story_of(store))
            recall(board, store, terminal.clock.now().utc_ns)
        ending = terminal.present(WatchScreen(board, glyphs_for(terminal.console.encoding)), feed)
    if ending.error is not None:
        raise ending.error
    return DONE
