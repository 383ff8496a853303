"""A Markdown file taken apart by a parser that is not ours (markdown-it-py, CommonMark)."""

from __future__ import annotations

from markdown_it import MarkdownIt
from markdown_it.token import Token

# GitHub Flavored Markdown beyond CommonMark, as far as the parser has it without more packages.
_PARSER = MarkdownIt("commonmark").enable(["table", "strikethrough"])

_SHOWN = ("text", "text_special", "code_inline")


class Marked:
    """Its tokens, its texts, its tables as rows of cells, and where its pictures are."""

    def __init__(self, text: str) -> None:
        self.tokens: list[Token] = []
        self.texts: list[str] = []
        self.tables: list[list[list[str]]] = []
        self.pictures: list[str] = []
        in_cell = False
        for token in _PARSER.parse(text):
            self.tokens += [token, *(token.children or ())]
            if token.type == "table_open":
                self.tables.append([])
            elif token.type == "tr_open":
                self.tables[-1].append([])
            elif token.type in ("td_open", "th_open"):
                in_cell = True
            elif token.type == "fence":
                self.texts.append(token.content)
            elif token.type == "inline":
                said = "".join(
                    " " if c.type == "softbreak" else c.content if c.type in _SHOWN else ""
                    for c in token.children or ()
                )
                pictures = [str(c.attrs["src"]) for c in token.children or () if c.type == "image"]
                self.pictures += pictures
                # The caption stands below the picture once more.
                if not pictures:
                    self.texts.append(said)
                if in_cell:
                    self.tables[-1][-1].append(said)
                in_cell = False

    @property
    def kinds(self) -> set[str]:
        return {token.type for token in self.tokens}

    @property
    def words(self) -> list[str]:
        return " ".join(self.texts).split()
