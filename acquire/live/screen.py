"""What turns a board into lines, whatever board it is. Pure; drawn by the loop at its own rate."""

from __future__ import annotations

from abc import ABC, abstractmethod

from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.text import Text

from acquire.live.blocks import cover
from acquire.live.board import Board
from acquire.live.canvas import FULL, PLAIN, Glyphs, page


class Screen(ABC):
    """A renderable of exactly the size it is given."""

    def __init__(self, glyphs: Glyphs) -> None:
        self._glyphs = glyphs

    @property
    @abstractmethod
    def board(self) -> Board:
        """The board that is shown."""

    @abstractmethod
    def lines(self, width: int, height: int) -> list[Text]:
        """The lines of the screen; more than `height` are cut off, fewer are filled up."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width, height = options.max_width, options.height or options.size.height
        if self.board.page:
            drawn = cover(self.board.page, width, height)
        else:
            drawn = self.lines(width, height)
        for number, text in enumerate(page(drawn, width, height)):
            if number:
                yield Segment.line()
            yield from text.render(console)


def glyphs_for(encoding: str) -> Glyphs:
    """Blocks and lines where the terminal's encoding has them."""
    return FULL if encoding.lower().replace("-", "").startswith("utf") else PLAIN
