"""Cues as text: WebVTT (W3C, WebVTT: The Web Video Text Tracks Format), SubRip, and plain chapters.

SubRip has no standard; written is what all players read: numbered blocks, comma before the
milliseconds, CR LF. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.report.film.cues import Cue

_PLAIN = str.maketrans({"<": "‹", ">": "›", "{": "(", "}": ")"})
"""SubRip has no way to write these: players take them for marks of style and place."""


def webvtt(cues: Sequence[Cue], note: str = "") -> str:
    """A WebVTT file; `note` is a comment that no player shows."""
    blocks = ["WEBVTT"]
    if note:
        blocks.append(f"NOTE {_escaped(note)}")
    for number, cue in enumerate(cues, 1):
        times = f"{_clock(cue.start_ms, '.')} --> {_clock(cue.end_ms, '.')}"
        blocks.append("\n".join((str(number), times, *map(_escaped, cue.lines))))
    return "\n\n".join(blocks) + "\n"


def subrip(cues: Sequence[Cue]) -> str:
    """A SubRip file."""
    blocks = []
    for number, cue in enumerate(cues, 1):
        times = f"{_clock(cue.start_ms, ',')} --> {_clock(cue.end_ms, ',')}"
        lines = (line.translate(_PLAIN) for line in cue.lines)
        blocks.append("\r\n".join((str(number), times, *lines)))
    return "\r\n\r\n".join(blocks) + "\r\n" if blocks else ""


def chapter_list(cues: Sequence[Cue]) -> str:
    """``MM:SS title`` a line, as film sites take them in a description; the first is at 00:00."""
    return "".join(f"{_short(cue.start_ms)} {' '.join(cue.lines)}\n" for cue in cues)


def _escaped(line: str) -> str:
    """As WebVTT has it (4.2.2): these three would begin a reference, a tag or an arrow."""
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _clock(ms: int, point: str) -> str:
    seconds, rest = divmod(ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}{point}{rest:03}"


def _short(ms: int) -> str:
    minutes, seconds = divmod(ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes:02}:{seconds:02}"
