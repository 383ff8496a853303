"""Text of devices and people, made fit to be shown: what no eye can see stands as its escape.

A terminal obeys escape sequences, and text that runs from right to left can turn a figure around.
So every line for a person passes `visible`, and every JSON text `json_visible`. Letters of all
scripts, combining marks, emoji and the joiners that these need stay as they are. Keeps no state;
never used on what is stored. Any thread.
"""

from __future__ import annotations

import re
import unicodedata

# Unicode, chapter 23 (special areas and format characters) and UAX 9 (bidirectional text): the
# controls C0, DELETE and C1; zero width space; line and paragraph separators; embeddings,
# overrides and isolates of direction; invisible operators; byte order mark; interlinear
# annotation; halves of surrogate pairs; tag characters.
_UNSEEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u200b\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff"
    "\U000e0000-\U000e007f]"
)
_SHORT = {"\t": "\\t", "\n": "\\n", "\r": "\\r"}


# Letters and a sign by their category that have no shape: the fillers of Hangul (Unicode,
# DerivedCoreProperties, Default_Ignorable_Code_Point) and the blank of Braille.
_SHAPELESS = frozenset("\u115f\u1160\u3164\uffa0\u2800")


def says_something(text: str) -> bool:
    """Whether there is a letter, digit or sign that an eye can see (Unicode categories L, N, P, S).

    Spaces, controls, joiners and marks without a letter say nothing.
    """
    return any(unicodedata.category(c)[0] in "LNPS" and c not in _SHAPELESS for c in text)


def visible(text: str, keep: str = "") -> str:
    """The text with an escape (``\\x1b``, ``\\u202e``) for each sign that cannot be seen.

    Signs in `keep`, such as a line feed, stay. For eyes alone: a backslash is not doubled, so the
    result cannot be turned back.
    """

    def escape(found: re.Match[str]) -> str:
        sign = found[0]
        if sign in keep:
            return sign
        code = ord(sign)
        if code > 0xFFFF:
            return f"\\U{code:08x}"
        return _SHORT.get(sign) or (f"\\u{code:04x}" if code > 0xFF else f"\\x{code:02x}")

    return _UNSEEN.sub(escape, text)


def json_visible(text: str) -> str:
    """A JSON text of the same value whose strings hold no such sign (RFC 8259, 7).

    Line feeds and tabs stay: outside of strings they lay the text out, inside none can stand.
    """

    def escape(found: re.Match[str]) -> str:
        sign = found[0]
        if sign in "\t\n\r":
            return sign
        units = sign.encode("utf-16-be", "surrogatepass")
        return "".join(f"\\u{units[k]:02x}{units[k + 1]:02x}" for k in range(0, len(units), 2))

    return _UNSEEN.sub(escape, text)


def shortened(text: str, most: int) -> str:
    """A text cut to `most` columns with an ellipsis; wide signs take two."""
    used = 0
    for index, sign in enumerate(text):
        used += 2 if ord(sign) >= 0x1100 else 1
        if used > most:
            return text[:index].rstrip() + "…"
    return text
