"""`coatbench store`: the store itself, held against its seals."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.store.verify import Verdict

_SEAL = re.compile(r"([1-9][0-9]{0,17}):([0-9a-f]{64})")


def seal(text: str) -> tuple[int, str]:
    """A seal as a page has it, its number and its digest; for `click`."""
    found = _SEAL.fullmatch(text.strip().lower())
    if found is None:
        raise click.BadParameter(f"{text!r} is no NUMBER:DIGEST as a page of results has it")
    return int(found[1]), found[2]


@click.group()
def store() -> None:
    """The file that keeps everything: look whether it is as it was recorded.

    \b
    Example:  coatbench store verify
    Next:     coatbench proof NUMBER follows one reading back to its bytes
    """


@store.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option(
    "--seal", "seals", type=seal, multiple=True, metavar="NUMBER:DIGEST",
    help="A seal from a page or a note that the store must have had; can be given more than once.",
)  # fmt: skip
@bench_option
def verify(file: Path | None, seals: tuple[tuple[int, str], ...], bench: Path | None) -> int:
    """Look whether every row of the store is what was recorded.

    Each commit of the daemon is sealed: its seal holds a digest of its rows and of the seal before
    it. A row that was changed, removed or put in later does not fit, and the first one is named.
    Then SQLite's own check looks for indexes that do not lead to their rows, and for pages that a
    disk has damaged.

    That its end was cut off, or that an older copy was put back, is found by the file STORE.heads
    beside it, which keeps the last seal whenever the daemon starts or ends, a check is judged or a
    run is finished. Take it along with a copy; where you mean to go on from an older copy, begin a
    new one.

    Who can change both files can make a store anew from some row on. That is found out only with a
    seal that is known from elsewhere: every page of results has one; give it with --seal.

    FILE is a store; without it that of the bench is looked at. A daemon may go on recording.

    Exit status 1 if something does not fit.

    \b
    Example:  coatbench store verify
              coatbench store verify old/boatyard.sqlite
    Next:     keep a store that does not fit as it is, and go on with a copy from before
    """
    from acquire.store.heads import heads_path, kept_heads  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow
    from acquire.store.verify import verify as hold  # noqa: PLC0415 - slow

    path = file if file is not None else store_of(bench)
    kept = kept_heads(path)
    wanted = {head.seal_id: head.digest.hex() for head in reversed(kept or [])} | dict(seals)
    with StoreReader(path) as reader:
        found = hold(reader, wanted)
    say(lines(path, found))
    if kept is None:
        say([
            f"there is no {heads_path(path).name} beside it: that its end was cut off, or that it "
            "is an older copy, would not be found without --seal"
        ])  # fmt: skip
    return DONE if found.misfit is None else NOT_DONE


def lines(path: Path, found: Verdict) -> Iterator[str]:
    """What was found, for a person."""
    yield f"store  {path}"
    yield f"rows   {found.rows:,} in {found.head.seal_id:,} seals"
    yield f"seal   {found.head}"
    if found.misfit is None:
        yield "every row is what was recorded"
        return
    yield f"DOES NOT FIT: {found.misfit}"
    if found.misfit.next_step:
        yield "every row is what was recorded, but may not be found"
        yield f"next: {found.misfit.next_step}"
        return
    yield "what was recorded before it is as it was; nothing is known of what came after it"
    yield "next: keep this file as it is, and go on with a copy from before"
