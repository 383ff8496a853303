"""Another program that reads on a meter's port is named, where it may take bytes; seldom looked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pytest

from acquire.errors import LinkLost
from acquire.model import IncidentKind, Instant
from acquire.pipeline.sharing import Sharing
from acquire.supervise import Scope
from tests.unit.session.test_life import PRESS_1, PRESS_6, Bench, unasked

AT = Instant(10**18, 10**12)


class Others:
    """Programs that have the port open; counts how often all are looked at."""

    def __init__(self, *processes: int) -> None:
        self.open = {process: f"reader (process {process})" for process in processes}
        self.looks = 0

    def found(self, where: str) -> Mapping[int, str]:
        self.looks += 1
        return dict(self.open)

    def has(self, process: int, where: str) -> bool:
        return process in self.open


@pytest.fixture
def others() -> Others:
    return Others()


@pytest.fixture
def bench(others: Others) -> Iterator[Bench]:
    crashes: list[BaseException] = []
    with Scope(lambda _, error: crashes.append(error)) as scope:
        made = Bench(unasked, others)
        scope.start("session", made.session.run)
        yield made
        made.session.stop()
    assert crashes == []


def test_who_reads_there_when_the_port_is_opened_is_told_with_a_next_step(
    bench: Bench, others: Others
) -> None:
    others.open[7] = "reader (process 7)"
    bench.opener.plug()
    bench.session.wake()
    (told,) = bench.next(lambda b: b.incidents and bench.session.state.connected).incidents
    assert told.kind is IncidentKind.LINK_SHARED
    assert told.message == (
        "shore: another program has shore open as well, so that bytes of the meter may never come "
        "here: got reader (process 7). Next: end that program, and press again what did not come"
    )
    assert told.message.endswith(bench.session.shared)
    others.open.clear()
    assert bench.session.shared == "", "it has ended, which needs no further look"
    assert others.looks == 1


def test_a_line_that_broke_under_another_reader_says_so_instead_of_asking_for_a_cable(
    bench: Bench, others: Others
) -> None:
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(PRESS_1)
    bench.next(lambda b: b.received)
    others.open[7] = "reader (process 7)"
    device.cut()
    last = bench.next(lambda b: b.disconnected)
    assert last.disconnected is not None
    assert last.disconnected.message == (
        "the line shore broke, for another program reads what comes on it: got reader (process 7) "
        "with it open. Next: end that program; then it is opened again by itself"
    )
    assert bench.session.shared == "", "nothing is open that could be shared"


def test_presses_that_are_missing_are_looked_into(bench: Bench, others: Others) -> None:
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    device.write(PRESS_1)
    bench.next(lambda b: b.received)
    assert others.looks == 1, "a press as it should be costs no look"
    others.open[7] = "reader (process 7)"
    device.write(PRESS_6)
    (told,) = bench.next(lambda b: b.incidents).incidents
    assert told.kind is IncidentKind.LINK_SHARED


def test_the_same_reader_is_told_of_once_and_a_further_one_again() -> None:
    others = Others(7)
    sharing = Sharing(others)
    assert "(process 7)" in sharing.look("/dev/ttyUSB0")
    assert sharing.look("/dev/ttyUSB0") == ""
    others.open[8] = "reader (process 8)"
    assert "end those programs" in sharing.look("/dev/ttyUSB0")
    assert "(process 7), reader (process 8)" in sharing.words


def test_a_flood_of_missing_presses_is_no_flood_of_looks() -> None:
    others = Others()
    sharing = Sharing(others)
    for second in range(20):
        sharing.look_again("/dev/ttyUSB0", AT._replace(mono_ns=AT.mono_ns + second * 10**9))
    assert others.looks == 2


def test_a_line_that_breaks_with_nobody_else_there_keeps_its_own_words() -> None:
    lost = LinkLost("the line /dev/ttyUSB0 broke", next_step="plug the device in")
    assert Sharing(Others()).broken(lost, "/dev/ttyUSB0") == str(lost)
