"""What is kept elsewhere is a sequence that is read each time it is gone through."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from acquire.link.kept import Kept


def kept(count: int) -> tuple[Kept[int], list[int]]:
    """Numbers from 0 on, and each that was read."""
    read: list[int] = []

    def each() -> Iterator[int]:
        for number in range(count):
            read.append(number)
            yield number

    return Kept(each), read


def test_it_is_as_a_tuple_of_the_same() -> None:
    numbers, _ = kept(5)
    assert list(numbers) == list(numbers) == [0, 1, 2, 3, 4]
    assert len(numbers) == 5
    assert (numbers[0], numbers[4], numbers[-1], numbers[-5]) == (0, 4, 4, 0)
    assert list(numbers[1:3]) == [1, 2]
    assert list(numbers[-2:]) == [3, 4]
    assert list(numbers[3:1]) == []
    assert numbers == (0, 1, 2, 3, 4)
    assert numbers != (0, 1, 2, 3)
    assert numbers != (0, 1, 2, 3, 5)
    assert (numbers == 5) is False
    for place in (5, -6):
        with pytest.raises(IndexError):
            numbers[place]
    with pytest.raises(ValueError, match="forwards"):
        numbers[::-1]


@pytest.mark.parametrize(
    "slices",
    [
        [slice(2, 9)],
        [slice(1, None), slice(3, 7)],
        [slice(0, 10, 3), slice(1, 4)],
        [slice(4), slice(-3, None, 2)],
    ],
)
def test_slices_of_slices_are_those_of_a_tuple_from_the_beginning_or_from_some_item_on(
    slices: list[slice],
) -> None:
    plain: tuple[int, ...] = tuple(range(10))
    begun: list[int] = []

    def behind(first: int) -> Iterator[int]:
        begun.append(first)
        return iter(range(first, 10))

    from_start, from_item = Kept(lambda: iter(range(10))), Kept(lambda: behind(0), 10, behind)
    for one in slices:
        plain, from_start, from_item = plain[one], from_start[one], from_item[one]  # type: ignore
    assert tuple(from_start) == tuple(from_item) == plain
    assert (len(from_start), len(from_item)) == (len(plain), len(plain))
    assert [from_item[place] for place in range(len(plain))] == list(plain)
    assert begun[0] == plain[0]


def test_no_more_is_read_than_is_asked_for() -> None:
    numbers, read = kept(1000)
    assert next(iter(numbers)) == 0
    assert read == [0]
    assert numbers[1] == 1
    assert read == [0, 0, 1]
