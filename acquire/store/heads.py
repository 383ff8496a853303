"""The heads of a chain of seals, kept in a small file beside the store: what it has had.

A chain alone cannot show that its end was cut off, nor that an older copy was put back. The writer
adds a line ``SEAL:DIGEST:FOLD`` (`acquire.store.seals.Head`, `acquire.store.fold`) when it opens
and closes the store and when a check is judged or a run ends; a line is never taken out, and older
ones have no fold. Whoever can change both files is not found out by this: a seal on a published
page is what holds then. Losing the file loses no reading, so a write that fails is let go. Any
thread that has the store.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from acquire.store.fold import BEGINNING
from acquire.store.seals import Head

SUFFIX = ".heads"
MOST_LATELY = 200
"""So many lines are looked at where results are read; all by `coatbench store verify`."""


def heads_path(store: Path) -> Path:
    """Where they are kept."""
    file = store.resolve()
    return file.with_name(file.name + SUFFIX)


class Folded(NamedTuple):
    """Seals that the same writers folded one after the other, the last of an earlier line left out.

    From the fold behind the seal `since` they come to `fold` behind that of `upto`.
    """

    since: int
    before: bytes
    upto: Head
    fold: bytes


def keep_head(store: Path, head: Head, fold: bytes) -> None:
    """Add a head that is on disk, with the fold behind it."""
    with contextlib.suppress(OSError), heads_path(store).open("a", encoding="ascii") as file:
        file.write(f"{head}:{fold.hex()}\n")


def kept_heads(store: Path) -> list[Head] | None:
    """Those that were kept, in the order in which they were; None without a file of them.

    A line that cannot be read, such as one that was broken off, says nothing.
    """
    kept = _kept(store)
    return None if kept is None else [head for head, _ in kept]


def kept_folds(store: Path) -> list[Folded]:
    """The stretches of seals between two lines of which the later fold is made of the earlier."""
    found = []
    last: tuple[Head, bytes] | None = None
    for head, fold in _kept(store) or ():
        if not fold:
            last = None
            continue
        if last is not None and fold != BEGINNING and last[0].seal_id < head.seal_id:
            found.append(Folded(last[0].seal_id, last[1], head, fold))
        last = (head, fold)
    return found


def fold_behind(store: Path, head: Head) -> bytes | None:
    """The fold that was kept behind a head; None where the last line is another one's."""
    last: Sequence[tuple[Head, bytes]] = (_kept(store) or [])[-1:]
    return next((fold for kept, fold in last if kept == head and fold), None)


def _kept(store: Path) -> list[tuple[Head, bytes]] | None:
    """Heads with their folds, empty where there is none."""
    try:
        text = heads_path(store).read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    found = []
    for line in text.splitlines():
        number, _, digests = line.partition(":")
        digest, _, fold = digests.partition(":")
        with contextlib.suppress(ValueError):
            behind = bytes.fromhex(fold)
            # One that was broken off says nothing of the seals; its head does.
            whole = behind if len(behind) == len(BEGINNING) else b""
            found.append((Head(int(number), bytes.fromhex(digest)), whole))
    return found
