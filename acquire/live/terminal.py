"""The terminal of this process: screen or plain lines, with or without the bell."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import IO

from rich.console import Console

from acquire.clock import Clock, SystemClock
from acquire.live.bell import Bell
from acquire.live.board import Ending
from acquire.live.keys import keyboard
from acquire.live.loop import Ears, let_go, show, tell
from acquire.live.screen import Screen


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where a board is presented. `plain` writes lines instead of drawing a screen."""

    console: Console
    keys: IO[str]
    plain: bool
    quiet: bool
    clock: Clock

    @classmethod
    def of_process(cls, *, plain: bool, quiet: bool) -> Terminal:
        """Standard output and input; plain where one of them is no terminal that can do more."""
        console = Console(highlight=False, markup=False, emoji=False)
        able = console.is_terminal and not console.is_dumb_terminal and sys.stdin.isatty()
        return cls(console, sys.stdin, plain or not able, quiet, SystemClock())

    def present(self, screen: Screen, ears: Ears) -> Ending:
        """Show the screen's board until it has ended; Ctrl-C ends it as *interrupted*."""
        bell = Bell(self._ring if self.console.is_terminal and not self.quiet else None)
        try:
            if self.plain:
                return tell(screen.board, ears, self.write, bell, self.clock)
            with keyboard(self.keys) as keys:
                let_go(screen.board, keys)
                return show(screen, ears, keys, self.console, bell, self.clock)
        except KeyboardInterrupt:
            return Ending("interrupted")

    def write(self, text: str) -> None:
        """One line, at once."""
        self.console.file.write(text + "\n")
        self.console.file.flush()

    def _ring(self) -> None:
        self.console.file.write("\a")
        self.console.file.flush()
