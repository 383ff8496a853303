"""The heads of a chain of seals, kept in a small file beside the store: what it has had.

A chain alone cannot show that its end was cut off, nor that an older copy was put back. The writer
adds a line ``SEAL:DIGEST`` (`acquire.store.seals.Head`) when it opens and closes the store and when
a check is judged or a run ends; a line is never taken out. Whoever can change both files is not
found out by this: a seal on a published page is what holds then. Losing the file loses no reading,
so a write that fails is let go. Any thread that has the store.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

from acquire.store.seals import Head

SUFFIX = ".heads"
MOST_LATELY = 200
"""So many lines are looked at where results are read; all by `coatbench store verify`."""


def heads_path(store: Path) -> Path:
    """Where they are kept."""
    file = store.resolve()
    return file.with_name(file.name + SUFFIX)


def keep_head(store: Path, head: Head) -> None:
    """Add a head that is on disk."""
    with contextlib.suppress(OSError), heads_path(store).open("a", encoding="ascii") as file:
        file.write(f"{head}\n")


def kept_heads(store: Path) -> list[Head] | None:
    """Those that were kept, in the order in which they were; None without a file of them.

    A line that cannot be read, such as one that was broken off, says nothing.
    """
    try:
        text = heads_path(store).read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    found = []
    for line in text.splitlines():
        number, _, digest = line.partition(":")
        with contextlib.suppress(ValueError):
            found.append(Head(int(number), bytes.fromhex(digest)))
    return found
