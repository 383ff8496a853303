"""A finished page as a tree of its elements, for what is made of it: Markdown, and figures.

So a report has one text, whatever it is written as: nothing is computed or worded twice. Reads the
pages of this program alone, whose markup is whole and whose texts are escaped. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import accumulate

_ALONE = frozenset(("meta", "br", "hr", "img", "link", "input"))
_UNREAD = frozenset(("style", "script", "title"))


@dataclass(slots=True)
class Element:
    """An element: what is in it are elements and texts. `drawing` is the source of an svg."""

    tag: str
    attributes: dict[str, str]
    parts: list[Element | str] = field(default_factory=list)
    drawing: str = ""

    @property
    def classes(self) -> list[str]:
        return self.attributes.get("class", "").split()

    @property
    def children(self) -> list[Element]:
        return [part for part in self.parts if isinstance(part, Element)]

    def all(self, tag: str) -> Iterator[Element]:
        """All elements of a tag within, in the order of the page."""
        for child in self.children:
            if child.tag == tag:
                yield child
            yield from child.all(tag)

    @property
    def text(self) -> str:
        """All text within, with single spaces; nothing of drawings."""
        return " ".join("".join(self._texts()).split())

    def _texts(self) -> Iterator[str]:
        for part in self.parts:
            if isinstance(part, str):
                yield part
            elif part.tag != "svg":
                yield from part._texts()


def page_tree(page: str) -> Element:
    """The body of a page. Raises ValueError where the markup is not whole."""
    reader = _Reader(page)
    reader.feed(page)
    reader.close()
    if len(reader.open) != 1:
        raise ValueError(f"{reader.open[-1].tag} is not closed")
    return next(reader.open[0].all("body"))


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self._page = page
        # HTMLParser counts lines by line feeds alone.
        self._starts = [0, *accumulate(len(line) + 1 for line in page.split("\n"))]
        self.open = [Element("", {})]
        self._svg_start = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "svg":
            self._svg_start = self._place()
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].parts.append(element)
        if tag not in _ALONE:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].parts.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1].tag != tag:
            raise ValueError(f"{self.open[-1].tag} is closed by {tag}")
        ended = self.open.pop()
        if tag == "svg":
            ended.drawing = self._page[self._svg_start : self._place()] + "</svg>"

    def handle_data(self, data: str) -> None:
        if self.open[-1].tag not in _UNREAD:
            self.open[-1].parts.append(data)

    def _place(self) -> int:
        line, column = self.getpos()
        return self._starts[line - 1] + column
