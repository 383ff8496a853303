"""The screen of a check, from a `CheckBoard`. Pure."""

from __future__ import annotations

from rich.text import Text

from acquire.live import blocks
from acquire.live.canvas import FAINT, GOOD, STRONG, WARN, Glyphs, beside, headed, line, paragraph
from acquire.live.checkboard import BETWEEN, CheckBoard, Step
from acquire.live.screen import Screen
from acquire.live.words import clean, renewal_words, serial_words, shared_words, times, width_words

KEYS = (
    ("e", "type"),
    ("t", "take"),
    ("i", "insist"),
    ("v", "void last"),
    ("a", "abandon"),
    ("q", "leave"),
    ("?", "help"),
)


LEAST_STORY = 4
"""Lines of what happened that values which go below their piece leave free."""


class CheckScreen(Screen):
    """The piece to be read in large, the last reading in large, all steps below."""

    def __init__(self, board: CheckBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> CheckBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._board, self._glyphs
        own = board.own
        if own is None:
            return [line(f"check {board.check_id}"), line("waiting for the daemon's word")]
        tall = blocks.tallness(width, height, 18)
        half = (width - 3) // 2
        piece = board.piece
        head = [
            line(f"check {board.check_id} of {clean(own['id'])}, {serial_words(own)}"),
            headed("", width, glyphs),
        ]
        main = beside(
            [
                line("PIECE", FAINT),
                *blocks.large(clean(piece or "..."), half, tall, glyphs),
                *paragraph(board.step_words() or self._nothing_next(), half, 2, STRONG),
                *(
                    paragraph(board.entry.words(board), half, 2, WARN)
                    if board.entry.waiting
                    else []
                ),
            ],
            blocks.last_reading(
                board.last,
                half,
                tall,
                glyphs,
                lost=board.lost,
                typed=board.is_typed(board.meter),
            ),
            width,
            glyphs,
        )
        # In the head, so that it goes before the first press and stands to the end.
        head += paragraph(shared_words(own), width, 3, WARN) if own.get("shared") else []
        head += [line(text, WARN) for text in renewal_words(own)[:3]]
        head += [part for text in width_words(own)[:1] for part in paragraph(text, width, 2, WARN)]
        if not own["connected"]:
            main += blocks.sign(
                (
                    f"{clean(own['id'])} IS NOT CONNECTED",
                    own["message"],
                    "plug it in and switch it on; a check that was broken off is begun again",
                ),
                width,
                4,
            )
        foot = blocks.foot(board, blocks.keys_of(KEYS, board, board.meter), width, height)
        room = height - len(head) - len(main) - len(foot)
        steps = [headed("pieces", width, glyphs), *self._steps(width, room - LEAST_STORY)]
        if len(steps) > room:
            steps = steps[: max(0, room)]
        room -= len(steps)
        body = [*head, *main, *steps, *blocks.story(board, width, room, glyphs)]
        body = body[: height - len(foot)]
        return [*body, *(line() for _ in range(height - len(foot) - len(body))), *foot]

    def _nothing_next(self) -> str:
        """What stands there while no piece is next: the first status may still be on its way."""
        is_read = all(self._board.left(step) <= 0 for step in self._board.steps)
        return "all pieces are read" if is_read else "waiting for the daemon's word"

    def _steps(self, width: int, room: int) -> list[Text]:
        """A line a piece; values too many for it go below it, where `room` lines hold all."""
        short, whole = [], []
        for step in self._board.steps:
            line_, values = self._step(step), self._board.values(step)
            short.append(line_)
            if line_.cell_len <= width or not values:
                whole.append(line_)
                continue
            bare = line_[: len(line_) - len(values)]
            whole += [bare, *(line(f"      {part}") for part in values.split(BETWEEN))]
        return whole if len(whole) + 1 <= room else short

    def _step(self, step: Step) -> Text:
        board = self._board
        left = board.left(step)
        now = step.piece == board.piece
        room = max(len(clean(s.piece)) for s in board.steps)
        if left <= 0:
            state, style = "read", GOOD
        elif now:
            state, style = f"now: {times(left, 'reading')} to go", STRONG
        else:
            state, style = f"later: {times(step.readings, 'reading')}", FAINT
        return Text.assemble(
            (f"{clean(step.piece):<{room}}  ", STRONG),
            (f"{state:<22}  ", style),
            board.values(step),
            no_wrap=True,
        )
