"""What is read from where it is kept each time it is gone through. A day's tape takes no room so.

Reads nothing itself; the thread of whoever goes through it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import TypeVar, overload

T = TypeVar("T")


class Kept(Sequence[T]):
    """A sequence that `each` reads from its beginning, the same every time.

    It is made to be gone through: a single item, and how many there are, are found in this way.
    """

    def __init__(self, each: Callable[[], Iterator[T]], count: int | None = None) -> None:
        self._each = each
        self._count = count

    def __iter__(self) -> Iterator[T]:
        return self._each()

    def __len__(self) -> int:
        if self._count is None:
            self._count = sum(1 for _ in self._each())
        return self._count

    @overload
    def __getitem__(self, place: int) -> T: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[T]: ...

    def __getitem__(self, place: int | slice) -> T | Sequence[T]:
        if isinstance(place, slice):
            first, last, step = place.indices(len(self))
            if step < 1:
                raise ValueError(f"got a step of {step}, wanted one forwards")
            return Kept(lambda: islice(self._each(), first, last, step))
        at = place + len(self) if place < 0 else place
        for item in islice(self._each(), at, None) if at >= 0 else ():
            return item
        raise IndexError(f"got {place}, wanted one of {len(self)}")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence) or len(self) != len(other):
            return False
        return all(one == two for one, two in zip(self, other, strict=True))

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Kept({len(self)})"
