"""However many signals come, and whatever they interrupt, the program ends in order once."""

from __future__ import annotations

import os
import signal
import sys
import threading

import pytest

from acquire.signals import ended_by_signals
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.mark.parametrize("kind", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_and_is_put_back_as_it_was(kind: signal.Signals) -> None:
    before = signal.getsignal(kind)
    ending = threading.Event()
    with ended_by_signals(ending.set):
        os.kill(os.getpid(), kind)
        assert ending.wait(PATIENCE_S)
    assert signal.getsignal(kind) is before


def test_a_signal_within_the_lock_that_ending_takes_waits_for_nothing() -> None:
    lock, ended = threading.Lock(), threading.Event()

    def end() -> None:
        with lock:
            ended.set()

    with ended_by_signals(end):
        with lock:
            for _ in range(3):
                os.kill(os.getpid(), signal.SIGTERM)
            assert not ended.is_set()
        assert ended.wait(PATIENCE_S)


def test_a_program_that_is_to_outlive_its_terminal_does() -> None:
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        ending = threading.Event()
        with ended_by_signals(ending.set):
            os.kill(os.getpid(), signal.SIGHUP)
        assert not ending.is_set()
    finally:
        signal.signal(signal.SIGHUP, before)
