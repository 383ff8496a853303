"""Captures read from their files alone: their steps, and the words of their acts."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from simulators.gloss import Surface

FOLDER = Path(__file__).parent.parent / "captures"


class Step(NamedTuple):
    """A step: what is done to the device, what the host sends, what comes back."""

    acts: tuple[str, ...]
    sent: bytes
    received: bytes
    after_s: float

    @property
    def lines(self) -> bool:
        """Whether the line itself made the bytes, or some of them."""
        return any(act.startswith("line") for act in self.acts)


def captures(pattern: str) -> list[Path]:
    return sorted(FOLDER.glob(f"{pattern}/*.toml"))


def steps_of(path: Path) -> list[Step]:
    found: list[dict[str, Any]] = tomllib.loads(path.read_text("utf-8"))["step"]
    return [
        Step(
            tuple(act for act in step.get("act", "").split("; ") if act),
            step.get("sent", "").encode("latin-1"),
            step.get("received", "").encode("latin-1"),
            step.get("after_s", 0.0),
        )
        for step in found
    ]


def pairs_of(words: str) -> dict[str, str]:
    """``20=91.4 60=over`` by its left sides."""
    return dict(word.split("=") for word in words.split())


def surface_of(values: Mapping[int, float]) -> Surface:
    """Of these values; an angle that is left out is 0."""
    return Surface("step", MappingProxyType({20: 0.0, 60: 0.0, 85: 0.0, **values}))
