"""What a program is told by signals."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator

import pytest

from acquire.signals import ended_by_signals

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")


@pytest.fixture
def hang_up() -> Iterator[signal.Signals]:
    """SIGHUP, whose handler is put back as it was."""
    before = signal.getsignal(signal.SIGHUP)
    yield signal.SIGHUP
    signal.signal(signal.SIGHUP, before)


@pytest.mark.parametrize("kind", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_each_signal_asks_for_the_end_and_what_it_did_before_it_does_again(kind: str) -> None:
    number = signal.Signals[kind]
    before = signal.getsignal(number)
    asked: list[str] = []
    with ended_by_signals(lambda: asked.append(kind)):
        signal.raise_signal(number)
        signal.raise_signal(number)
    assert asked == [kind, kind]
    assert signal.getsignal(number) is before


def test_a_program_that_is_to_outlive_its_terminal_does(hang_up: signal.Signals) -> None:
    signal.signal(hang_up, signal.SIG_IGN)
    asked: list[str] = []
    with ended_by_signals(lambda: asked.append("end")):
        signal.raise_signal(hang_up)
    assert asked == []
    assert signal.getsignal(hang_up) is signal.SIG_IGN
