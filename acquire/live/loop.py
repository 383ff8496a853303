"""The two loops around a board: one draws a screen, the other writes plain lines.

Thin: they wait for keys or for the feed, let the board fold, pass on what it wants asked, and
show. They run on the main thread, end when the board has ended, and never touch the store.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from rich.console import Console
from rich.live import Live

from acquire.clock import Clock
from acquire.live.bell import Bell
from acquire.live.board import Board, Ending
from acquire.live.feed import Heard
from acquire.live.keys import Keys
from acquire.live.screen import Screen
from acquire.live.story import Happening

FRAME_S = 0.05
"""How long a key is waited for before the inbox is emptied and the screen drawn: 20 a second."""


class Ears(Protocol):
    """What a loop needs of a feed."""

    def take(self, timeout_s: float) -> list[Heard]: ...

    def ask(self, call: str, **arguments: object) -> None: ...


def show(
    screen: Screen, ears: Ears, keys: Keys, console: Console, bell: Bell, clock: Clock
) -> Ending:
    """Draw the screen until its board has ended."""
    board = screen.board
    with Live(
        screen,
        console=console,
        screen=True,
        auto_refresh=False,
        redirect_stdout=False,
        redirect_stderr=False,
    ) as live:
        size = console.size
        while board.ending is None:
            try:
                pressed = _pressed(board, ears, keys)
            except EOFError:
                board.ending = Ending("left")
                break
            heard = ears.take(0)
            _fold(board, heard, bell, clock)
            if pressed or heard or console.size != size:
                size = console.size
                live.refresh()
    return board.ending


def let_go(board: Board, keys: Keys) -> None:
    """Keys from before the screen stood were meant for something else; say that they did nothing.

    Taken, they might leave a page of cautions unread or finish a run.
    """
    count = 0
    with suppress(EOFError):
        while keys.read(0) is not None:
            count += 1
    if count:
        did = "a key was" if count == 1 else f"{count} keys were"
        board.say(f"{did} pressed before the screen stood and did nothing. Next: press again")


def _pressed(board: Board, ears: Ears, keys: Keys) -> bool:
    """Give the board the keys that were pressed; a whole pasted line in one go."""
    key = keys.read(FRAME_S)
    some = key is not None
    while key is not None and board.ending is None:
        for ask in board.press(key):
            ears.ask(ask.call, **ask.arguments)
        key = keys.read(0)
    return some


def tell(
    board: Board, ears: Ears, write: Callable[[str], None], bell: Bell, clock: Clock
) -> Ending:
    """Write what happens and how things stand, a line each, until the board has ended.

    Nobody is there to press keys: what a person would confirm on the screen is asked for here
    as soon as it is due.
    """
    for text in board.page:
        write(text)
    board.page = ()
    while board.ending is None:
        for happening in _fold(board, ears.take(FRAME_S), bell, clock):
            write(str(happening))
        if board.message:
            write(board.message)
            board.message = ""
        if board.ending is None:
            for text in board.news():
                write(text)
        for ask in board.unattended():
            ears.ask(ask.call, **ask.arguments)
    return board.ending


def _fold(board: Board, heard: list[Heard], bell: Bell, clock: Clock) -> list[Happening]:
    happenings = [h for h in map(board.fold, heard) if h is not None]
    now = clock.now()
    bell.hear(happenings, now)
    bell.tick(now)
    return happenings
