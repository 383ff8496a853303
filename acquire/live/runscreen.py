"""The screen of a run, from a `RunBoard`. Pure."""

from __future__ import annotations

from rich.text import Text

from acquire.live import blocks
from acquire.live.canvas import (
    BAD,
    FAINT,
    GOOD,
    STRONG,
    WARN,
    Glyphs,
    bar,
    beside,
    headed,
    line,
    paragraph,
    row,
)
from acquire.live.runboard import RunBoard
from acquire.live.screen import Screen
from acquire.live.words import clean, presses_left, shared_words
from acquire.model import channel_labels

KEYS = (
    ("s", "skip"),
    ("b", "back"),
    ("g", "zone"),
    ("v", "void last"),
    ("e", "type"),
    ("t", "take"),
    ("c", "check"),
    ("f", "finish"),
    ("q", "leave"),
    ("?", "help"),
)

CHECKING_KEYS = (
    ("v", "void last"),
    ("e", "type"),
    ("t", "take"),
    ("a", "abandon check"),
    ("f", "finish"),
    ("q", "leave"),
    ("?", "help"),
)
"""While the meter is checked from here: no place is next, and a check can be left again."""


LEAST_TITLE = 20
"""Where fewer cells are left for the trial's name, run and measure go below it."""


class RunScreen(Screen):
    """Next target and last reading in large, then what stands in the way, then the rest."""

    def __init__(self, board: RunBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> RunBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._board, self._glyphs
        run = board.run
        if run is None:
            return [line(f"run {board.run_id}"), line("waiting for the daemon's word")]
        tall = blocks.tallness(width, height, 20)
        head = self._head(width)
        if run["unchecked"]:
            head.append(line("UNCHECKED TRIAL: its readings count without a valid check", BAD))
        if shared := shared_words(board.own):
            head += paragraph(shared, width, 3, WARN)
        head.append(headed("", width, glyphs))
        half = (width - 3) // 2
        main = beside(
            self._target(half, tall),
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
        main += [line(board.means(), STRONG), self._progress(width)]
        keys = KEYS if board.checking is None else CHECKING_KEYS
        foot = blocks.foot(board, blocks.keys_of(keys, board, board.meter), width, height)
        room = height - len(head) - len(main) - len(foot)
        sign = self._sign(width, min(6, max(2, room - 3)))
        room -= len(sign)
        others = blocks.instruments(board, width, max(1, min(room - 3, 8)), board.meter)
        if room < 2:
            others = []
        room -= len(others)
        body = [*head, *main, *sign, *others, *blocks.story(board, width, room, glyphs)]
        body = body[: height - len(foot)]
        return [*body, *(line() for _ in range(height - len(foot) - len(body))), *foot]

    def _head(self, width: int) -> list[Text]:
        run = self._board.run
        assert run is not None
        left = Text.assemble((clean(run["trial"]), STRONG), f"  {clean(run['title'])}")
        right = Text(
            f"run {run['run_id']}: {clean(run['measure'])}, {clean(run['stage'])}, "
            f"with {clean(run['instrument'])}"
        )
        room = width - right.cell_len - 2
        if room < min(left.cell_len, LEAST_TITLE):
            return [left, *paragraph(right.plain, width, 2)]
        left.truncate(room, overflow="ellipsis")
        return [row(left, right, width)]

    def _target(self, width: int, tall: int) -> list[Text]:
        run = self._board.run
        assert run is not None
        checking = self._board.checking
        if checking is not None:
            piece = clean(checking["piece"] or "...")
            return [
                line("NEXT, a piece of the check", FAINT),
                *blocks.large(piece, width, tall, self._glyphs),
                *paragraph(self._board.check_words(), width, 2, STRONG),
                line(f"presses left here: {presses_left(checking)}"),
                *self._typing(width),
            ]
        target = run["next"]
        if target is None:
            return [
                line("NEXT", FAINT),
                *blocks.large("DONE", width, tall, self._glyphs, GOOD),
                line("all readings are taken", GOOD),
                line("Enter finishes the run", STRONG),
            ]
        channels = clean(channel_labels(target["channels"]))
        return [
            *paragraph(
                f"NEXT, {clean(run['stage'])}{', at ' + channels if channels else ''}",
                width,
                2,
                FAINT,
            ),
            *blocks.large(clean(target["zone"]), width, tall, self._glyphs),
            *paragraph(
                f"zone {clean(target['zone'])}: {clean(target['treatment'])}", width, 2, STRONG
            ),
            line(f"replicate {target['replicate']} of {target['replicates']}"),
            *self._typing(width),
        ]

    def _typing(self, width: int) -> list[Text]:
        """What is to be typed, where the meter has no port."""
        entry = self._board.entry
        style = WARN if entry.waiting else FAINT
        return paragraph(entry.words(self._board), width, 2, style)

    def _progress(self, width: int) -> Text:
        run = self._board.run
        assert run is not None
        total, left = run["slots_total"], run["slots_left"]
        words = f"  {total - left} of {total} taken, {left} left"
        done = bar(total - left, total, max(5, width - len(words)), self._glyphs)
        return Text.assemble(done, words, no_wrap=True)

    def _sign(self, width: int, most: int) -> list[Text]:
        stop = self._board.stop_sign()
        if stop is None or (self._board.is_complete and stop[0] != "CHECK UNDER WAY"):
            return []
        heading, reason, next_step = stop
        if next_step == f"coatbench check {self._board.meter}":
            next_step += " (or press c here)"
        return blocks.sign((heading, reason, next_step), width, most)
