"""The hub hands stored rows to watchers and never waits for them."""

from __future__ import annotations

from acquire.hub import Hub
from acquire.store.rows import GapRow


def rows(first: int, count: int) -> list[GapRow]:
    return [GapRow(i, "shore", 0, 1, 2) for i in range(first, first + count)]


def test_every_watcher_gets_every_row_in_order() -> None:
    hub = Hub()
    with hub.watch() as a, hub.watch() as b:
        hub.publish(rows(1, 2))
        hub.publish(rows(3, 1))
        assert a.pull(0) == (rows(1, 3), 0)
        assert b.pull(0) == (rows(1, 3), 0)
        assert a.pull(0) == ([], 0)


def test_a_slow_watcher_keeps_the_newest_rows_and_is_told_what_it_missed() -> None:
    hub = Hub()
    with hub.watch(limit=3) as slow:
        hub.publish(rows(1, 5))
        hub.publish(rows(6, 1))
        assert slow.pull(0) == (rows(4, 3), 3)


def test_a_watcher_that_left_gets_nothing_more() -> None:
    hub = Hub()
    watcher = hub.watch()
    watcher.close()
    hub.publish(rows(1, 1))
    assert watcher.pull(0) == ([], 0)


def test_a_watcher_knows_its_place_among_all_rows_ever_published() -> None:
    hub = Hub()
    hub.publish(rows(1, 2))
    with hub.watch(limit=3) as watcher:
        assert watcher.place == 2
        hub.publish(rows(3, 5))
        watcher.pull(0)
        assert watcher.place == hub.place == 7
