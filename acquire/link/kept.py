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
    `behind` reads it from some item on, where that is quicker than to pass over those before.
    """

    def __init__(
        self,
        each: Callable[[], Iterator[T]],
        count: int | None = None,
        behind: Callable[[int], Iterator[T]] | None = None,
    ) -> None:
        self._each = each
        self._count = count
        self._behind = behind or (lambda first: islice(each(), first, None))

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
            most, behind = max(0, last - first), self._behind
            return Kept(
                lambda: islice(behind(first), 0, most, step),
                -(-most // step),
                lambda then: islice(
                    behind(first + then * step), 0, max(0, most - then * step), step
                ),
            )
        at = place + len(self) if place < 0 else place
        for item in self._behind(at) if at >= 0 else ():
            return item
        raise IndexError(f"got {place}, wanted one of {len(self)}")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence) or len(self) != len(other):
            return False
        return all(one == two for one, two in zip(self, other, strict=True))

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Kept({len(self)})"
