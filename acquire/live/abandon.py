"""A check is abandoned at a screen: what comes of it is said first, and a typed yes is wanted."""

from __future__ import annotations

from acquire.live.before_check import abandoning, ends_a_pass
from acquire.live.board import Ask, Board, Prompt

ABOUT = "abandon"
"""What the question is about, as `Board.on_answer` has it."""


def ask_to_abandon(board: Board, meter: str) -> None:
    """Put the question on `board`, with what was read outside its limit above it."""
    own = board.instrument(meter)
    ends = ""
    if own is not None and own["checking"] is not None:
        if ends_a_pass(own):
            ends = " (this ends the pass it was to renew)"
        if own["checking"]["outside"]:
            taken = "all readings since its last pass that no check has closed"
            board.page = ("ABANDON THE CHECK?", "", abandoning(own, taken))
    board.prompt = Prompt(f"abandon the check{ends}: type yes", ABOUT)


def answered(board: Board, meter: str, text: str) -> list[Ask]:
    """What `text` asks for: a yes abandons, anything else leaves the check as it is."""
    if text.lower() == "yes":
        return [Ask("abandon_check", {"instrument": meter})]
    board.say("the check goes on")
    return []
