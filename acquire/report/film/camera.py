"""A camera: how the film's clock goes with the bench's. Pure; any thread.

A film is tied to the bench by the moment it starts, or by a clap mark (`coatbench note --clap`) and
where in the film that is seen. Both clocks are taken to run alike: a camera that is off by 50
millionths of its time, as cheap quartz is, is a tenth of a second off in half an hour (common
practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from acquire.errors import Misuse, NotFound

_NAMED = re.compile(r"(?:([A-Za-z0-9_-]{1,20})=)?(.+)", re.DOTALL)
_PART = r"(?:[.,]\d{1,3})?"
_CLOCK = re.compile(rf"(?:(\d{{1,3}}):)?(\d{{1,3}}):([0-5]?\d{_PART})|(\d{{1,6}}{_PART})", re.ASCII)
_CLAP = re.compile(r"(\d{1,18})(?:@(.+))?", re.ASCII)


class Camera(NamedTuple):
    """One film: its name (may be empty) and the moment (UTC) of its beginning."""

    name: str
    starts_utc_ns: int

    def film_ms(self, utc_ns: int) -> int:
        """Where in the film a moment is, in milliseconds; less than 0 before it."""
        return (utc_ns - self.starts_utc_ns) // 1_000_000


class Clap(NamedTuple):
    """A clap mark as stored: the number of its note, and its moment."""

    number: int
    at_utc_ns: int


def camera_of_start(text: str) -> Camera:
    """``[NAME=]2026-05-04T08:00:00Z``. Raises `Misuse`."""
    name, rest = _named(text)
    try:
        at = datetime.fromisoformat(rest.strip())
        if at.tzinfo is None:
            raise ValueError("no zone")
        seconds = (at.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    except (ValueError, OverflowError):
        raise Misuse(
            "the film's start is no moment",
            got=repr(text[:60]),
            wanted="day, time and zone (ISO 8601), such as 2026-05-04T10:00:00+02:00, or with a Z",
            next_step="take the time from the camera's file, or use a clap mark: --clap NUMBER",
        ) from None
    return Camera(name, round(seconds * 1000) * 1_000_000)


def camera_of_clap(text: str, claps: Sequence[Clap]) -> Camera:
    """``[NAME=]NUMBER[@MM:SS.sss]``: the clap mark, and where in the film it is seen.

    Raises `Misuse`, and `NotFound` where there is no such mark.
    """
    name, rest = _named(text)
    found = _CLAP.fullmatch(rest.strip())
    if found is None:
        raise Misuse(
            "the clap mark is not understood",
            got=repr(text[:60]),
            wanted="its number, and after an @ where in the film it is seen: 17@00:12.5",
            next_step="coatbench note --clap gives a mark its number",
        )
    mark = next((clap for clap in claps if clap.number == int(found[1])), None)
    if mark is None:
        raise NotFound(
            f"there is no clap mark {found[1]}",
            wanted=", ".join(str(clap.number) for clap in claps[-20:])
            or "a clap mark, but the sittings of this trial have none",
            next_step="name one of these, or say when the film starts: --film-starts TIME",
        )
    seen_ms = film_clock_ms(found[2]) if found[2] is not None else 0
    return Camera(name, mark.at_utc_ns - seen_ms * 1_000_000)


def film_clock_ms(text: str) -> int:
    """``MM:SS.sss``, ``H:MM:SS`` or seconds, as milliseconds. Raises `Misuse`."""
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        raise Misuse(
            "the place in the film is not understood",
            got=repr(text[:60]),
            wanted="MM:SS, H:MM:SS or seconds, with parts behind a point: 00:12.5",
            next_step="read it off the player",
        )
    hours, minutes, seconds, alone = found.groups()
    if alone is not None:
        return round(float(alone.replace(",", ".")) * 1000)
    whole = int(hours or 0) * 3600 + int(minutes) * 60
    return round((whole + float(seconds.replace(",", "."))) * 1000)


def require_told_apart(cameras: Sequence[Camera]) -> None:
    """Raises `Misuse` where two cameras would write the same file."""
    names = [camera.name for camera in cameras]
    if len(set(names)) < len(names):
        raise Misuse(
            "the cameras cannot be told apart",
            got=", ".join(name or "one without a name" for name in names),
            wanted="a name of its own for each: --film-starts wide=TIME --film-starts close=TIME",
            next_step="name them",
        )


def _named(text: str) -> tuple[str, str]:
    found = _NAMED.fullmatch(text)
    return ("", "") if found is None else (found[1] or "", found[2])
