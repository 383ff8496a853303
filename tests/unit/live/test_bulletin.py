"""What the daemon's own terminal is told: instruments that go and come, and runs that wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC
from pathlib import Path
from typing import Any, cast

import pytest

from acquire.cli.serve import attend
from acquire.control.shapes import row_item
from acquire.daemon import Daemon
from acquire.hub import Hub
from acquire.live.bulletin import Bulletin
from acquire.model import Batch, Connected, Disconnected, Incident, IncidentKind, NoticeKind
from acquire.store.rows import Row
from tests.unit.seen import Seen


class Printed:
    """A bulletin beside a yard."""

    def __init__(self, folder: Path) -> None:
        self.seen = Seen(folder)
        self.bulletin = Bulletin(UTC)

    def hear(self, rows: Sequence[Row] = ()) -> list[str]:
        """Rows were stored: the lines that come of it."""
        lines = [line for row in rows for line in self.bulletin.fold(row_item(row))]
        return lines + self.bulletin.stand(self.seen.status())

    def begin_check(self) -> None:
        yard = self.seen.yard
        begun = yard.acts.checks.begin("shore", yard.clock.now())
        assert self.hear(yard.store(begun.rows)) == []

    def check(self) -> None:
        """A whole check that passes."""
        self.begin_check()
        for value in ("93.2", "93.2", "0.0", "0.0"):
            self.seen.yard.clock.advance(1)
            self.hear(self.seen.yard.press("shore", value))
        self.seen.yard.clock.advance(1)


class Busy:
    """Of a daemon what `attend` calls: while it answers, more may be stored."""

    def __init__(self, seen: Seen) -> None:
        self.seen = seen
        self.hub = Hub()
        self.meanwhile: list[Row] = []

    def answer(self, name: str, arguments: dict[str, object]) -> dict[str, Any]:
        assert (name, arguments) == ("status", {})
        rows, self.meanwhile = self.meanwhile, []
        self.hub.publish(rows)
        return self.seen.status()


@pytest.fixture
def printed(tmp_path: Path) -> Iterator[Printed]:
    printed = Printed(tmp_path)
    yield printed
    printed.seen.close()


def test_at_the_start_it_tells_what_is_there_and_what_is_not(printed: Printed) -> None:
    printed.seen.yard.plug("shore")
    printed.seen.yard.desk.standings["deck"].message = "no port has the serial number DK-2205"
    assert printed.hear() == [
        "2026-05-04 08:00:00 - shore: connected as /dev/shore",
        "2026-05-04 08:00:00 ! deck: NOT THERE: no port has the serial number DK-2205",
    ]
    assert printed.hear() == []


def test_a_reader_that_was_there_before_anybody_watched_is_told_once(printed: Printed) -> None:
    printed.seen.yard.plug("shore")
    status = printed.seen.status()
    words = "another program has /dev/shore open as well. Next: end that program"
    next(own for own in status["instruments"] if own["id"] == "shore")["shared"] = words
    assert [line for line in printed.bulletin.stand(status) if "shore" in line] == [
        "2026-05-04 08:00:00 - shore: connected as /dev/shore",
        f"2026-05-04 08:00:00 ! shore: {words}",
    ]
    yard = printed.seen.yard
    told = Incident("shore", IncidentKind.LINK_SHARED, yard.clock.now(), f"shore: {words}")
    rows = yard.store(yard.desk.take_in(Batch("shore", 1, incidents=(told,))))
    assert printed.hear(rows) == []
    assert "connected as" in printed.seen.status()["instruments"][0]["message"]


def test_what_is_heard_before_the_first_status_is_not_told_twice(printed: Printed) -> None:
    assert printed.hear(printed.seen.yard.plug("shore")) == [
        "2026-05-04 08:00:00 - shore: connected as /dev/shore"
    ]


def test_an_instrument_that_goes_and_comes_back_is_told_each_time_in_one_line(
    printed: Printed,
) -> None:
    yard = printed.seen.yard
    first = yard.plug("shore")
    printed.hear()
    assert printed.hear(first) == []
    yard.clock.advance(1)
    assert printed.hear(yard.unplug("shore")) == [
        "2026-05-04 08:00:01 ! shore: disconnected: shore is gone"
    ]
    lost = Incident("shore", IncidentKind.LINK_LOST, yard.clock.now(), "shore: shore is gone")
    assert printed.hear(yard.store(yard.desk.take_in(Batch("shore", 1, incidents=(lost,))))) == []
    yard.clock.advance(1)
    assert printed.hear(yard.plug("shore")) == [
        "2026-05-04 08:00:02 - shore: connected as /dev/shore"
    ]


def test_a_run_that_waits_is_told_with_reason_and_next_step_and_when_it_goes_on(
    printed: Printed,
) -> None:
    yard = printed.seen.yard
    yard.plug("shore")
    printed.hear()
    printed.check()
    yard.begin()
    assert printed.hear(yard.press("shore", "80.1")) == []
    told = printed.hear(yard.tell("shore", NoticeKind.ADJUSTED))
    assert told == [
        "2026-05-04 08:00:05 ! shore: was re-adjusted by its own button",
        "2026-05-04 08:00:05 ! shore: check 1 no longer holds: shore was re-adjusted; what was "
        "checked before says nothing of it now",
        "2026-05-04 08:00:05 ! shore: run 1 (gelcoat, bare) waits: shore was re-adjusted; what "
        "was checked before says nothing of it now. Next: coatbench check shore",
    ]
    assert printed.hear() == []
    yard.check("shore")
    assert printed.hear() == ["2026-05-04 08:00:10 - shore: run 1 (gelcoat, bare) goes on"]


def test_an_interrupted_run_waits_and_says_for_what(printed: Printed) -> None:
    yard = printed.seen.yard
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.restart()
    assert printed.hear() == [
        "2026-05-04 08:00:05 ! shore: run 1 (gelcoat, bare) was interrupted and waits. "
        "Next: coatbench check shore, then coatbench run --resume"
    ]
    assert printed.hear() == []


def test_readings_and_noise_are_left_to_the_watch(printed: Printed) -> None:
    yard = printed.seen.yard
    yard.plug("shore")
    printed.hear()
    assert printed.hear(yard.press("shore", "80.1")) == []


def test_a_check_that_fails_is_told(printed: Printed) -> None:
    yard = printed.seen.yard
    yard.plug("shore")
    printed.hear()
    printed.begin_check()
    for value in ("95.6", "95.6", "0.0"):
        printed.hear(yard.press("shore", value))
    (line,) = printed.hear(yard.press("shore", "0.0"))
    assert line.startswith("2026-05-04 08:00:00 x shore: check 1 fail: T1 at 20° read 95.60 GU")


def test_a_counter_that_is_not_there_is_told_at_the_start() -> None:
    probe = {"id": "hub", "connected": False, "message": "hub: no such port"}
    status = {
        "at": "2026-05-04T08:00:00Z", "instruments": [], "probes": [probe], "clock": "",
        "run": None, "interrupted": None,
    }  # fmt: skip
    (line,) = Bulletin(UTC).stand(status)
    assert line.endswith("! hub: NOT THERE: hub: no such port")


def test_many_faults_of_a_profile_are_one_line_here() -> None:
    message = "hub: profile mine has 2 faults:\n  name: got 3\n  kind: got 4\nNext: mend it"
    probe = {"id": "hub", "connected": False, "message": message}
    status = {
        "at": "2026-05-04T08:00:00Z", "instruments": [], "probes": [probe], "clock": "",
        "run": None, "interrupted": None,
    }  # fmt: skip
    (line,) = Bulletin(UTC).stand(status)
    assert line.endswith("! hub: NOT THERE: hub: profile mine has 2 faults (coatbench status "
                         "lists them)")  # fmt: skip


def test_a_trouble_of_a_connection_from_before_the_watch_is_told_once(printed: Printed) -> None:
    yard = printed.seen.yard
    at = yard.clock.now()
    yard.store(yard.desk.take_in(Batch("shore", 1, connected=Connected(at, "port", ""))))
    told = Incident("shore", IncidentKind.DRIVER_FAILED, at, "shore: the driver line failed")
    gone = Disconnected(at, "the driver line failed")
    rows = yard.store(yard.desk.take_in(Batch("shore", 1, incidents=(told,), disconnected=gone)))
    bulletin = Bulletin(UTC)
    lines = [line for row in rows for line in bulletin.fold(row_item(row))]
    assert [line for line in lines if "the driver line failed" in line] == lines[:1]
    assert "shore: the driver line failed" in lines[0]


def test_what_a_status_rests_on_is_told_before_it_also_where_it_came_while_that_was_asked_for(
    printed: Printed, capsys: pytest.CaptureFixture[str]
) -> None:
    busy, yard = Busy(printed.seen), printed.seen.yard
    look = attend(cast("Daemon", busy))
    busy.hub.publish(yard.plug("shore"))
    look()
    yard.check("shore")
    yard.begin()
    look()
    capsys.readouterr()
    busy.hub.publish(yard.tell("shore", NoticeKind.ADJUSTED))
    busy.meanwhile = yard.unplug("shore")
    look()
    look()
    lines = capsys.readouterr().out.splitlines()
    told = [line.partition(" ! ")[2].removeprefix("shore: ") for line in lines]
    assert [line.partition(":")[0] for line in told] == [
        "was re-adjusted by its own button",
        "check 1 no longer holds",
        "disconnected",
        "run 1 (gelcoat, bare) waits",
    ]
