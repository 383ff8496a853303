"""A check, and the word of a re-adjustment, while a run is open: it is said before it is done."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from acquire.store import StoreReader
from tests.flow.served import Served
from tests.flow.terminal import OnTerminal, Piped, make_ready

WAITS = "waits with 3 of 4 places open while meter-0 is checked, and goes on after a pass"
CUT_OFF = "suspect by this and"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with Served(tmp_path_factory.mktemp("check-in-run")) as served:
        yield served


@pytest.fixture
def served(bench: Served) -> Served:
    """A run with one of its four places filled."""
    make_ready(bench, checked=True)
    with bench.client() as client, client.watch() as items:
        client.call(
            "begin_run",
            text=(bench.folder / "trial.toml").read_text(),
            source="trial.toml",
            stage="bare",
            instrument="meter-0",
        )
        role = ""
        while role != "run":  # an echo, so soon after the line was opened
            bench.wire.press("80.1")
            role = bench.next_reading(items)["role"]
    return bench


def leave(served: Served) -> None:
    with served.client() as client:
        client.call("abandon_check", instrument="meter-0")


def adjusted(served: Served) -> int:
    with StoreReader(served.store) as store:
        return int(store.one("SELECT count(*) FROM notice WHERE kind = 'adjusted'") or 0)


def test_a_check_says_first_what_becomes_of_the_run(served: Served) -> None:
    with Piped(served.bench_file, "check", "meter-0") as command:
        assert WAITS in command.expect("run ")
        command.expect("place meter-0 on T1")
        leave(served)


def test_the_screen_of_a_check_keeps_it_in_view(served: Served) -> None:
    with OnTerminal(served.bench_file, "check", "meter-0", columns=200) as screen:
        screen.expect("PIECE")
        screen.expect("waits with 3 of 4 places open")
        leave(served)
        assert screen.end() == 1


def test_a_re_adjustment_on_a_terminal_is_asked_about_where_it_cuts_readings_off(
    served: Served,
) -> None:
    before = adjusted(served)
    with OnTerminal(served.bench_file, "check", "meter-0", "--adjusted", columns=200) as screen:
        assert CUT_OFF in screen.expect("keep it as re-adjusted?")
        screen.press_keys("n\r")
        assert screen.end() == 130
    assert adjusted(served) == before
    with served.client() as client:
        assert client.call("status")["instruments"][0]["check"]["valid"] is True


def test_a_re_adjustment_without_a_terminal_is_said_and_done(served: Served) -> None:
    before = adjusted(served)
    with Piped(served.bench_file, "check", "meter-0", "--adjusted") as command:
        command.expect(CUT_OFF)
        command.expect("is kept as re-adjusted")
        command.expect("place meter-0 on T1")
        assert adjusted(served) == before + 1
        leave(served)
