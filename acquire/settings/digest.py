"""The digest by which a text that a person wrote is known in the store. Pure; any thread."""

from __future__ import annotations

import hashlib

from acquire.errors import Fault, SettingsError


def text_digest(text: str, source: str) -> str:
    """The SHA-256 of a text in UTF-8, which is that of its file; `source` names it in messages.

    Raises `SettingsError` for a text that no file can hold.
    """
    try:
        return hashlib.sha256(text.encode("utf-8")).hexdigest()
    except UnicodeEncodeError:
        fault = Fault("file", "text that cannot be written as UTF-8", "UTF-8 text")
        raise SettingsError(source, [fault]) from None
