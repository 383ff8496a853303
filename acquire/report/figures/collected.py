"""The figures of a page, with names for their files and what has to be said with them.

Pure; any thread.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from acquire.report.markdown.tree import Element

_LONGEST_PART = 40


class Figure(NamedTuple):
    """A figure: `svg` is its drawing as the page has it; `name` is that of its file, no ending.

    `section` and `heading` are what it stands below, `legend` the list that explains its marks,
    `remark` the paragraph right before its gallery.
    """

    name: str
    section: str
    heading: str
    caption: str
    svg: str
    element: Element
    legend: Element | None
    remark: Element | None


def figures_of(body: Element) -> list[Figure]:
    """All figures of a page, in their order."""
    found: list[Figure] = []
    for section in body.all("section"):
        title, heading = "", ""
        legend: Element | None = None
        before: Element | None = None
        remark: Element | None = None
        for element in _flat(section):
            if element.tag == "h2":
                title, heading, legend, before = element.text, "", None, None
            elif element.tag in ("h3", "h4"):
                heading, legend, before = element.text, None, None
            elif "legend" in element.classes:
                legend = element
            elif "gallery" in element.classes:
                remark = before
            elif element.tag in ("table", "details"):
                before = None
            elif element.tag == "p":
                before = element
            elif element.tag == "figure":
                caption = next(element.all("figcaption")).text
                svg = next(element.all("svg")).drawing
                said = (title.removesuffix(": figures"), heading, caption)
                slugs = [slug for text in said if (slug := _slug(text))]
                name = "-".join((f"{len(found) + 1:03}", *slugs))
                found.append(Figure(name, title, heading, caption, svg, element, legend, remark))
    return found


def _flat(element: Element) -> list[Element]:
    """An element's elements, each before what is in it; nothing of figures."""
    found = []
    for child in element.children:
        found.append(child)
        if child.tag != "figure":
            found += _flat(child)
    return found


def _slug(text: str) -> str:
    """Letters and digits of ASCII alone, fit for any file system."""
    words = re.findall(r"[a-z0-9]+", text.lower())
    slug = ""
    for word in words:
        if len(slug) + len(word) >= _LONGEST_PART:
            break
        slug = f"{slug}-{word}" if slug else word
    return slug
