"""`coatbench pieces`: the register of reference pieces."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.judgedanew import before_start
from acquire.cli.listing import show_table
from acquire.cli.reach import bench_file, bench_option, load
from acquire.cli.spoken import say
from acquire.errors import Misuse, NotFound, StoreError
from acquire.visible import json_visible

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from acquire.errors import Fault
    from acquire.model import Bench, Piece
    from acquire.store.kept import Kept


_START = (
    "checks go by what stood when the daemon started. "
    "Next: coatbench stop, then coatbench serve, where one runs"
)


@click.command()
@click.argument("piece", metavar="[ID]", required=False)
@click.option("--json", "as_json", is_flag=True, help="All of it as one JSON object.")
@click.option(
    "--file", "out", type=click.Path(dir_okay=False, path_type=Path), metavar="OUT",
    help="Write the kept file of a certificate of piece ID to OUT.",
)  # fmt: skip
@click.option(
    "--certificate", "number", type=int, metavar="NUMBER",
    help="Which certificate's file (default: the latest issued that has one).",
)  # fmt: skip
@bench_option
def pieces(
    piece: str | None, as_json: bool, out: Path | None, number: int | None, bench: Path | None
) -> int:
    """List the reference pieces with their certificates, and what is due.

    By the bench file as it is now. With an ID, every certificate that was ever recorded of the
    piece is listed, and --file writes out the file of one, as it was kept. Needs no daemon.

    Below the list stands what is not plausible of a certificate: a warning, which blocks nothing.
    A certificate is never edited; one that was is named, and no daemon starts with it. What was
    entered since the daemon started is named, too: checks go by it once it is started anew.

    Exit status 1 if the bench file says other than was recorded.

    \b
    Example:  coatbench pieces
              coatbench pieces T1 --file T1.pdf
    Next:     enter a new certificate as a [[piece.certificate]] below the older ones
    """
    if (out is not None or number is not None) and piece is None:
        raise click.UsageError("--file and --certificate go with the ID of a piece")
    if number is not None and out is None:
        raise click.UsageError("--certificate goes with --file OUT")
    found = load(bench)
    with _kept(found.store) as (kept, untold):
        own = _pieces(found, kept, piece)
        if out is not None and piece is not None:
            return _write(kept, piece, out, number, untold)
        faults = _edited(found, kept)
        later = [] if faults else _unrecorded(found, kept)
        anew = before_start(bench_file(bench)) if later else []
        if as_json:
            told = _object(found, own, kept, faults, piece)
            told |= {"unrecorded": later, "judged_anew": anew}
            click.echo(json_visible(json.dumps(told, indent=2)))
        else:
            _show(found, own, kept, faults, piece)
            say(["", *(f"NOT RECORDED YET: {text}" for text in later)] if later else [])
            say(f"JUDGED ANEW: {text}" for text in anew)
            say([_START] if later else [])
            say([untold] if untold else [], err=True)
    return NOT_DONE if faults else DONE


@contextlib.contextmanager
def _kept(store: Path) -> Iterator[tuple[Kept | None, str]]:
    """What the store keeps, or why nothing can be told of that."""
    from acquire.store.kept import Kept  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    with contextlib.ExitStack() as stack:
        kept, untold = None, ""
        try:
            kept = Kept(stack.enter_context(StoreReader(store)))
        except NotFound:
            untold = f"nothing is recorded yet: there is no store at {store}"
        except StoreError as error:
            untold = f"the store cannot be looked at: {error.what}. Next: {error.next_step}"
        yield kept, untold


def _pieces(bench: Bench, kept: Kept | None, wanted: str | None) -> list[Piece]:
    """All pieces of the bench file, or the one that is wanted, be it in the store alone."""
    if wanted is None:
        return list(bench.pieces)
    found = bench.piece(wanted) or (kept.piece(wanted) if kept is not None else None)
    if found is None:
        known = ", ".join(p.id for p in bench.pieces)
        raise NotFound(
            f"no piece {wanted!r} is in the bench file or the store",
            wanted=known or "a [[piece]] of the bench file; there is none",
            next_step="coatbench pieces lists them",
        )
    return [found]


def _edited(bench: Bench, kept: Kept | None) -> list[Fault]:
    from acquire.pipeline.register import Register  # noqa: PLC0415 - slow

    if kept is None:
        return []
    return list(Register(kept.rows, kept.hashes).faults(bench.pieces, _today()))


def _unrecorded(bench: Bench, kept: Kept | None) -> list[str]:
    from acquire.pipeline.register import Register  # noqa: PLC0415 - slow

    if kept is None or not kept.rows:
        return []
    return list(Register(kept.rows, kept.hashes).untold(bench.pieces))


def _items(bench: Bench, own: list[Piece]) -> list[dict[str, Any]]:
    from acquire.cli.piecewords import piece_item  # noqa: PLC0415 - slow

    return [piece_item(piece, _today(), bench.due_soon_days) for piece in own]


def _today() -> date:
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow

    return SystemClock().now().utc().date()


def _object(
    bench: Bench, own: list[Piece], kept: Kept | None, faults: list[Fault], wanted: str | None
) -> dict[str, Any]:
    from acquire.cli.piecewords import kept_item  # noqa: PLC0415 - slow

    items = _items(bench, own)
    if wanted is not None and kept is not None:
        items[0]["recorded"] = [kept_item(one) for one in kept.certificates(wanted)]
    return {
        "bench": bench.name,
        "due_soon_days": bench.due_soon_days,
        "pieces": items,
        "faults": [fault._asdict() for fault in faults],
    }


def _show(
    bench: Bench, own: list[Piece], kept: Kept | None, faults: list[Fault], wanted: str | None
) -> None:
    from acquire.cli.piecewords import history_rows, kept_item, piece_rows  # noqa: PLC0415 - slow
    from acquire.pipeline.register import NEXT_STEP  # noqa: PLC0415

    items = _items(bench, own)
    if not items:
        say(["the bench file has no [[piece]]"])
        return
    show_table(piece_rows(items, own))
    if wanted is not None:
        if own[0].name:
            say([f"name  {own[0].name}"])
        if bench.piece(wanted) is None:
            say([f"{wanted} is no longer in the bench file; this is what is recorded of it"])
        recorded = [kept_item(one) for one in kept.certificates(wanted)] if kept is not None else []
        if recorded:
            say(["", "every certificate that was recorded"])
            show_table(history_rows(recorded, own[0], _today()))
    told = [text for item in items for text in item["findings"]]
    say(["", *(f"NOT PLAUSIBLE: {text}" for text in told)] if told else [])
    if faults:
        say(["", *(f"EDITED: {fault}" for fault in faults), f"next: {NEXT_STEP}"])


def _write(kept: Kept | None, piece: str, out: Path, number: int | None, untold: str) -> int:
    own = [] if kept is None else kept.certificates(piece)
    having = [one for one in own if one.file_id is not None]
    fitting = [one for one in having if number in (None, one.id)]
    if kept is None or not fitting:
        asked = f"certificate {number} of {piece}" if number is not None else piece
        raise NotFound(
            f"no file is kept of {asked}",
            got=untold or f"{len(own)} certificates recorded, {len(having)} of them with a file",
            wanted=", ".join(str(one.id) for one in having) or "a certificate with a file",
            next_step=f"coatbench pieces {piece} lists its certificates"
            if having
            else 'enter file = "PATH" in its [[piece.certificate]], then start coatbench serve',
        )
    chosen = max(fitting, key=lambda one: (one.certificate.issued, one.id))
    assert chosen.file_id is not None
    data = kept.bytes_of(chosen.file_id)
    try:
        with out.open("xb") as file:
            file.write(data)
    except OSError as error:
        is_there = isinstance(error, FileExistsError)
        raise Misuse(
            f"{out} cannot be written",
            got="a file that is there already" if is_there else str(error.strerror or error),
            wanted="a new file in a folder you may write to",
            next_step="name another file with --file",
        ) from error
    sha256 = kept.files[chosen.file_id].sha256
    say([f"written: {out}, {len(data)} bytes, SHA-256 {sha256}, of certificate {chosen.id}"])
    return DONE
