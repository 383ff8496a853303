"""The same line or frame once more at one press: within which time, and how it is told. Pure."""

from __future__ import annotations

import tomllib

from acquire.learn.presses.press import About

_LEAST_S = 0.5
"""More than a device needs to send a frame again, less than a person to press again."""
_LONGER = 1.5


def repeat_window_s(about: About) -> float:
    """Within which the same bytes are the same press, of a meter that sent them more than once."""
    return max(_LEAST_S, _LONGER * about.again_s)


def repeat_words(profile: str) -> list[str]:
    """What is told of a profile by which what comes again is the same press."""
    table = tomllib.loads(profile)
    window_s = table.get("press", {}).get("repeat_window_s")
    if window_s is None:
        return []
    # A press that ends by a silence ends no sooner.
    text, frame = table.get("text"), table.get("frame", {})
    silence_s = frame.get("silence_s", 0) if text is None else text.get("together_s", 0)
    what = "frame" if text is None else "line"
    return [
        f"it sent its {what} more than once at a press: the very same {what} again within "
        f"{max(window_s, silence_s):.2f} s is the same press and counts for nothing: press "
        "again on the same thing later than that"
    ]
