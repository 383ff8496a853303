"""The cautions before a check, on a page of their own. Pure.

Nothing is begun while they stand: a press of the meter meanwhile belongs to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.text import Text

from acquire.live.blocks import cover
from acquire.live.board import Ask, Board, Ending
from acquire.live.canvas import Glyphs
from acquire.live.screen import Screen


@dataclass(slots=True)
class CautionBoard(Board):
    """Ends with the key that leaves its page; `is_read` says that there was one."""

    is_read: bool = False

    def press(self, _key: str) -> list[Ask]:
        self.is_read = True
        self.ending = Ending("left")
        return []


class CautionScreen(Screen):
    """The page and nothing else."""

    def __init__(self, board: CautionBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> CautionBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        return cover(self._board.page, width, height)
