"""The clap mark: a moment that the bench and a film share. Pure."""

from __future__ import annotations

CLAP_MARK = "clap mark"
"""The text of its note. Only the command for it writes a note of this text, so that none is a
remark which happens to say so."""


def is_like_clap(text: str) -> bool:
    """Whether a remark could be taken for a clap mark."""
    return " ".join(text.split()).casefold().startswith(CLAP_MARK)
