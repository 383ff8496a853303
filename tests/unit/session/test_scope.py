"""The owner of threads: whatever it started has ended, and what went wrong is named."""

from __future__ import annotations

import threading

import pytest

from acquire.supervise import Scope, ThreadsLeft
from tests.patience import PATIENCE_S


def test_a_scope_waits_for_its_threads() -> None:
    gate, done = threading.Event(), []
    with Scope(lambda *_: None) as scope:
        scope.start("worker", lambda: (gate.wait(PATIENCE_S), done.append(True)))
        gate.set()
    assert done == [True]


def test_a_thread_that_crashes_is_named_with_its_error_and_the_others_go_on() -> None:
    crashes: list[tuple[str, BaseException]] = []
    crashed = threading.Event()
    done = []

    def told(name: str, error: BaseException) -> None:
        crashes.append((name, error))
        crashed.set()

    def fail() -> None:
        raise LookupError("gone")

    with Scope(told) as scope:
        scope.start("session-shore", fail)
        scope.start("session-deck", lambda: done.append(crashed.wait(PATIENCE_S)))
    ((name, error),) = crashes
    assert name == "session-shore"
    assert isinstance(error, LookupError)
    assert done == [True]


def test_a_thread_that_does_not_end_is_named() -> None:
    gate, ended = threading.Event(), threading.Event()

    def leave() -> None:
        with Scope(lambda *_: None, 0.05) as scope:
            scope.start("stubborn", lambda: (gate.wait(PATIENCE_S), ended.set()))
            scope.start("quick", lambda: None)

    with pytest.raises(ThreadsLeft, match="stubborn"):
        leave()
    gate.set()
    assert ended.wait(PATIENCE_S)


def test_an_error_on_leaving_is_kept_and_the_stubborn_thread_noted_to_it() -> None:
    gate, ended = threading.Event(), threading.Event()

    def leave() -> None:
        with Scope(lambda *_: None, 0.05) as scope:
            scope.start("stubborn", lambda: (gate.wait(PATIENCE_S), ended.set()))
            raise ValueError("why we left")

    with pytest.raises(ValueError, match="why we left") as caught:
        leave()
    assert "stubborn" in caught.value.__notes__[0]
    gate.set()
    assert ended.wait(PATIENCE_S)


def test_a_thread_may_start_another_while_the_scope_is_being_left() -> None:
    done = []
    leaving = threading.Event()
    with Scope(lambda *_: None) as scope:

        def first() -> None:
            leaving.wait(PATIENCE_S)
            scope.start("last client", lambda: done.append(True))

        scope.start("server", first)
        leaving.set()
    assert done == [True]


def test_nothing_is_started_in_a_scope_that_has_been_left() -> None:
    with Scope(lambda *_: None) as scope:
        pass
    with pytest.raises(RuntimeError, match="has been left"):
        scope.start("late", lambda: None)
