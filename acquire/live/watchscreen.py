"""The screen of the whole bench, without a run of one's own: it looks and changes nothing. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rich.text import Text

from acquire.live import blocks
from acquire.live.board import Board, Status
from acquire.live.canvas import FAINT, STRONG, WARN, Glyphs, beside, headed, line, paragraph, row
from acquire.live.screen import Screen
from acquire.live.words import (
    check_words,
    clean,
    outlook_words,
    resume_step,
    shared_words,
    times,
)
from acquire.model import MEASURED

KEYS = (("q", "leave"), ("?", "help"))

HELP = [
    "KEYS OF THE WATCH",
    "q    leave this screen",
    "",
    "This screen looks and changes nothing. What is done here is done with other commands:",
    "coatbench check INSTRUMENT    reads its reference pieces",
    "coatbench run FILE STAGE --with INSTRUMENT    takes the readings of a trial",
    "coatbench readings    lists readings with their numbers",
    "coatbench void NUMBER --reason TEXT    takes a reading out of the results",
    "",
    "One bell: accepted. Two bells: not accepted.",
]


def run_words(status: Status | None) -> list[str]:
    """The run that is open or interrupted, in sentences; the first is its name."""
    if status is None:
        return []
    run, broken = status["run"], status["interrupted"]
    if run is not None:
        total, left = run["slots_total"], run["slots_left"]
        named = f"{clean(run['trial'])}, {clean(run['measure'])}, {clean(run['stage'])}"
        words = [
            f"run {run['run_id']}: {named}",
            f"with {clean(run['instrument'])}: {total - left} of {total} taken",
        ]
        target = run["next"]
        if target is None:
            words.append("all readings are taken. Next: coatbench run --finish")
        else:
            words.append(
                f"next: zone {clean(target['zone'])} ({clean(target['treatment'])}), "
                f"replicate {target['replicate']} of {target['replicates']}"
            )
        if run["unchecked"]:
            words.append("UNCHECKED TRIAL")
        if run["blocked"] is not None:
            blocked = run["blocked"]
            words.append(
                f"BLOCKED: {clean(blocked['message'])}. Next: {clean(blocked['next_step'])}"
            )
        return words
    if broken is not None:
        named = f"{clean(broken['trial'])}, {clean(broken['measure'])}, {clean(broken['stage'])}"
        return [
            f"run {broken['run_id']} was interrupted: {named}",
            f"Next: {resume_step(status)}; or coatbench run --finish",
        ]
    return ["no run is open", *outlook_words(status)]


@dataclass(slots=True)
class WatchBoard(Board):
    """State of the watch: nothing but what all boards have; its last reading is that of all."""

    def on_row(self, item: Mapping[str, Any]) -> None:
        self.note_lost(item)
        if item.get("table") == "reading" and item["quantity"] in MEASURED:
            self.last = item

    def help(self) -> list[str]:
        return HELP

    def state_lines(self) -> dict[str, str]:
        """Each instrument and the run; what counts down is told without its figure."""
        if self.status is None:
            return {}
        lines = {}
        for own in self.status["instruments"]:
            name = clean(own["id"])
            there = "connected" if own["connected"] else f"not connected ({clean(own['message'])})"
            steady = own["check"]["valid"] and own["checking"] is None
            check = "check valid" if steady else check_words(own)
            shared = shared_words(own)
            lines[name] = f"{name}: {there}, {check}{f'. {shared}' if shared else ''}"
        run = self.status["run"]
        if run is None or run["next"] is None or run["blocked"] is not None:
            lines["run"] = ". ".join(run_words(self.status))
        else:
            lines["run"] = (
                f"{run_words(self.status)[0]}, {times(run['slots_total'], 'reading')} in all"
            )
        return lines


class WatchScreen(Screen):
    """The last reading in large, the run, every instrument, what happened."""

    def __init__(self, board: WatchBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> WatchBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._board, self._glyphs
        status = board.status
        if status is None:
            return [line("waiting for the daemon's word")]
        sitting = status["sitting"]
        tall = blocks.tallness(width, height, 18)
        half = (width - 3) // 2
        head = [
            row(
                line(clean(status["bench"]), STRONG),
                line(f"sitting {sitting}" if sitting else "no sitting is open", FAINT),
                width,
            ),
            *_shared(status, width),
            headed("", width, glyphs),
        ]
        run: list[Text] = [line("RUN", FAINT)]
        for number, words in enumerate(run_words(status)):
            style = STRONG if number == 0 else WARN if "Next:" in words else ""
            run += paragraph(words, half, 4, style)
        main = beside(
            blocks.last_reading(
                board.last,
                half,
                tall,
                glyphs,
                lost=board.lost,
                named=True,
                typed=board.last is not None and board.is_typed(board.last["instrument"]),
            ),
            run,
            width,
            glyphs,
        )
        foot = blocks.foot(board, KEYS, width, height)
        room = height - len(head) - len(main) - len(foot)
        others = [
            headed("instruments", width, glyphs),
            *blocks.instruments(board, width, max(1, room - 5)),
        ]
        others = others[: max(0, room)]
        room -= len(others)
        body = [*head, *main, *others, *blocks.story(board, width, room, glyphs)]
        body = body[: height - len(foot)]
        return [*body, *(line() for _ in range(height - len(foot) - len(body))), *foot]


def _shared(status: Status, width: int) -> list[Text]:
    """Ports that another program reads on, be it a meter's or a probe's."""
    named = (*status["instruments"], *status.get("probes", ()))
    told = [f"{clean(own['id'])} {text}" for own in named if (text := shared_words(own))]
    return [part for text in told for part in paragraph(text, width, 3, WARN)]
