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


def test_no_more_is_read_than_is_asked_for() -> None:
    numbers, read = kept(1000)
    assert next(iter(numbers)) == 0
    assert read == [0]
    assert numbers[1] == 1
    assert read == [0, 0, 1]
