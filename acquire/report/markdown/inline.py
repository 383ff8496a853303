"""What stands in a line: texts, weight, code and the signs of legends. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.report.markdown.escaping import code, escaped
from acquire.report.markdown.tree import Element

SIGNS = {
    "dot": "●", "control-dot": "○", "mean": "├◆┤", "cross": "×", "triangle": "△", "circled": "◎",
    "edge": "◄", "interval-dot": "├●┤", "square": "■", "ring": "○", "band": "┊ ┊",
}  # fmt: skip
"""In the place of the small drawings of a legend."""

_WEIGHT = {"b": "**", "strong": "**", "em": "*"}


def line_of(element: Element, in_table: bool = False) -> str:
    """All that is in an element, as one line of Markdown; empty where nothing is."""
    return _one_line("".join(_pieces(element, in_table)))


def _one_line(text: str) -> str:
    return " ".join(text.split(" ")).strip() if "  " not in text else " ".join(text.split())


def _pieces(element: Element, in_table: bool) -> Iterator[str]:
    for part in element.parts:
        if isinstance(part, str):
            yield escaped(part)
        elif part.tag == "svg":
            yield SIGNS.get(part.attributes.get("data-sign", ""), "")
        elif part.tag == "code":
            yield code(part.text, in_table)
        elif part.tag in _WEIGHT:
            yield _weighted("".join(_pieces(part, in_table)), _WEIGHT[part.tag])
        else:
            yield from _pieces(part, in_table)


def _weighted(text: str, sign: str) -> str:
    """The text between two signs; spaces at its ends stay outside of them, or they were none."""
    inner = text.strip()
    if not inner:
        return text
    before = " " if text[0] == " " else ""
    return f"{before}{sign}{inner}{sign}{' ' if text[-1] == ' ' else ''}"
