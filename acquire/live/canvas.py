"""Lines of a screen: rows, rules, wrapped paragraphs, a bar. Pure; knows sizes, not meanings.

A line is a rich `Text` of one row. What is too long ends in an ellipsis; nothing wraps by itself,
so that a screen has exactly the rows it was given.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import NamedTuple

from rich.cells import cell_len
from rich.text import Text

STRONG, FAINT, GOOD, BAD, WARN = "bold", "dim", "bold green", "bold red", "bold yellow"


class Glyphs(NamedTuple):
    """The few signs beyond letters, for terminals that can show them and those that cannot."""

    block: str
    shade: str
    rule: str
    upright: str


FULL = Glyphs("█", "░", "─", "│")
PLAIN = Glyphs("#", ".", "-", "|")


def line(text: str = "", style: str = "") -> Text:
    return Text(text, style=style, no_wrap=True, overflow="ellipsis", end="")


def fitted(text: Text, width: int) -> Text:
    """The line in exactly `width` cells."""
    text.truncate(width, overflow="ellipsis", pad=True)
    return text


def row(left: Text, right: Text, width: int) -> Text:
    """One line with a left and a right end; the right end goes first if both do not fit."""
    gap = width - left.cell_len - right.cell_len
    if gap < 2:
        return left
    return Text.assemble(left, " " * gap, right, no_wrap=True, end="")


def headed(title: str, width: int, glyphs: Glyphs) -> Text:
    """A rule with a title in it."""
    before = f"{glyphs.rule * 2} {title} " if title else ""
    rest = glyphs.rule * max(0, width - cell_len(before))
    return Text.assemble((before, STRONG), (rest, FAINT), no_wrap=True, end="")


def paragraph(text: str, width: int, most: int, style: str = "", indent: str = "") -> list[Text]:
    """The text in at most `most` lines."""
    wrapped = textwrap.wrap(
        text,
        max(10, width),
        initial_indent=indent,
        subsequent_indent=indent,
        max_lines=most,
        placeholder=" …",
    )
    return [line(part, style) for part in wrapped]


def beside(left: Iterable[Text], right: Iterable[Text], width: int, glyphs: Glyphs) -> list[Text]:
    """Two stacks of lines side by side, each in half the width."""
    stacks = [list(left), list(right)]
    rows = max(len(stack) for stack in stacks)
    half = (width - 3) // 2
    for stack in stacks:
        stack.extend(line() for _ in range(rows - len(stack)))
    return [
        Text.assemble(
            fitted(a, half),
            (f" {glyphs.upright} ", FAINT),
            fitted(b, width - 3 - half),
            no_wrap=True,
            end="",
        )
        for a, b in zip(*stacks, strict=True)
    ]


def bar(done: int, total: int, width: int, glyphs: Glyphs) -> Text:
    """How much is done; full only when all is."""
    filled = width * done // total if total else width
    return Text.assemble(
        (glyphs.block * filled, GOOD),
        (glyphs.shade * (width - filled), FAINT),
        no_wrap=True,
        end="",
    )


def page(lines: list[Text], width: int, height: int) -> list[Text]:
    """Exactly `height` lines of exactly `width` cells."""
    kept = lines[:height] + [line() for _ in range(height - len(lines))]
    return [fitted(text, width) for text in kept]
