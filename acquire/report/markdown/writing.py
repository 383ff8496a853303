"""The tree of a page as Markdown (CommonMark with tables). Pure; any thread."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from acquire.report.markdown.escaping import at_start, escaped, fenced
from acquire.report.markdown.inline import line_of
from acquire.report.markdown.tables import table_blocks, written
from acquire.report.markdown.tree import Element

Picture = Callable[[Element], str]
"""The address of the file of a figure, relative to the Markdown, fit to stand in a link."""

_SKIPPED = frozenset(("nav", "svg"))
_DEEPEST = 6
_PLACE = re.compile(r"grid-row:(\d+);grid-column:(\d+)")


def blocks_of(element: Element, picture: Picture, depth: int = 1) -> Iterator[str]:
    """The blocks of an element; between two stands an empty line. `depth` is that of headings."""
    for child in element.children:
        yield from _block(child, picture, depth)
        if re.fullmatch(r"h[1-6]", child.tag):
            depth = int(child.tag[1])


def _block(element: Element, picture: Picture, depth: int) -> Iterator[str]:
    tag = element.tag
    if tag in _SKIPPED:
        return
    if re.fullmatch(r"h[1-6]", tag):
        yield f"{'#' * int(tag[1])} {line_of(element)}"
    elif tag == "p":
        if line := line_of(element):
            yield at_start(line)
    elif tag in ("ul", "ol"):
        yield from _panel(element) if "panel" in element.classes else [_listed(element)]
    elif tag == "dl":
        yield _facts(element)
    elif tag == "table":
        yield from table_blocks(element)
    elif tag == "figure":
        caption = next(element.all("figcaption"))
        yield f"![{escaped(caption.text)}]({picture(element)})"
        if line := line_of(caption):
            yield at_start(line)
    elif tag == "pre":
        yield fenced("".join(part for part in element.parts if isinstance(part, str)))
    elif tag == "summary":
        yield f"{'#' * min(depth, _DEEPEST)} {line_of(element)}"
    elif tag == "details":
        yield from blocks_of(element, picture, depth + 1)
    elif any(isinstance(part, str) and part.strip() for part in element.parts):
        yield at_start(line_of(element))
    else:
        yield from blocks_of(element, picture, depth)


def _listed(element: Element, indent: str = "") -> str:
    """A list; one within an item stands below it."""
    lines = []
    for item in element.children:
        inner = [child for child in item.children if child.tag in ("ul", "ol")]
        own = Element("li", {}, [part for part in item.parts if part not in inner])
        lines.append(f"{indent}- {at_start(line_of(own))}")
        lines += [_listed(one, f"{indent}  ") for one in inner]
    return "\n".join(lines)


def _facts(element: Element) -> str:
    lines = []
    for pair in element.children:
        name, *said = pair.children
        if len(said) == 1:
            lines.append(f"- **{line_of(name)}**: {line_of(said[0])}")
        else:
            lines.append(f"- **{line_of(name)}**:")
            lines += [f"  - {at_start(line_of(one))}" for one in said]
    return "\n".join(lines)


def _panel(element: Element) -> Iterator[str]:
    """The zones as they lie on the panel; in a list where their places are not known."""
    cells: dict[tuple[int, int], str] = {}
    for item in element.children:
        place = _PLACE.search(item.attributes.get("style", ""))
        if place is None:
            yield _listed(element)
            return
        cells[int(place[1]), int(place[2])] = line_of(item, True)
    columns = max((column for _, column in cells), default=0)
    rows = max((row for row, _ in cells), default=0)
    if columns:
        yield written(
            [""] * columns,
            [False] * columns,
            [[cells.get((r, c), "") for c in range(1, columns + 1)] for r in range(1, rows + 1)],
        )
