"""Trials on a yard store for the tests of the report: a small one to reckon by hand, a full one."""

from __future__ import annotations

import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from html.parser import HTMLParser
from pathlib import Path

from acquire.model import CheckPolicy, Flag, NoticeKind, Piece
from acquire.report import write_report
from tests.yard import TRIAL, Yard, bench

SMALL = (
    TRIAL.replace('"gelcoat"', '"small"')
    .replace("Protectants on dark gelcoat", "Two zones of gelcoat")
    .replace("replicates = 2", "replicates = 3")
    .replace('order = "interleaved"', 'order = "by-zone"\nmargin = 1.0')
)

SMALL_VALUES = {
    ("A1", "bare"): ("80.1", "80.2", "80.3"),
    ("A2", "bare"): ("81.0", "81.1", "81.2"),
    ("A1", "cured"): ("79.9", "80.0", "80.1"),
    ("A2", "cured"): ("84.0", "84.1", "84.2"),
}
"""Every zone and stage scatters by exactly 0.1; net change (84.1 - 81.1) - (80.0 - 80.2) = 3.2."""


def small(folder: Path) -> Yard:
    """`SMALL` read under checks 1 to 3, all passed: T1 reads 93.2, 93.3 and 93.3."""
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore", tile="93.2")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore", tile="93.3")
    read_stage(yard, "cured", SMALL, [SMALL_VALUES[z, "cured"] for z in ("A1", "A2")])
    yard.check("shore", tile="93.3")
    return yard


def read_stage(yard: Yard, stage: str, text: str, values: Sequence[Sequence[str]]) -> None:
    """A whole run: `values` zone by zone, a reading every two seconds."""
    yard.begin(stage, text=text)
    for zone in values:
        for value in zone:
            yard.clock.advance(2)
            yard.press("shore", value)
    yard.act(lambda at: yard.acts.runs.finish("", at))


NAMES = {
    "none": "Untreated",
    "grebe": "Grebe wax",
    "plover": "Plover sealant",
    "curlew": "Curlew spray",
    "dunlin": "Dunlin ceramic",
    "whimbrel": "Whimbrel oil",
}
ZONES = {
    "A1": "plover",
    "A2": "none",
    "A3": "whimbrel",
    "B1": "dunlin",
    "B2": "grebe",
    "B3": "curlew",
}
GAINS = {
    "none": (0.0, -0.2, -0.6),
    "grebe": (0.0, 2.1, 0.4),
    "plover": (0.0, 1.3, 1.1),
    "curlew": (0.0, -0.1, -0.5),
    "dunlin": (0.0, 3.4, 3.1),
    "whimbrel": (0.0, -1.9, -1.2),
}
STAGES = ("bare", "applied", "wash-5")


def plan_text(
    names: Mapping[str, str] = NAMES,
    zones: Mapping[str, str] = ZONES,
    *,
    stages: Sequence[str] = STAGES,
    replicates: int = 5,
    channel: str = "20",
    control: str = "none",
    head: str = "",
    title: str = "Five protectants on dark gelcoat",
) -> str:
    """A trial file. Names are written as TOML basic strings."""

    def quoted(text: str) -> str:
        return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'

    lines = [
        "[trial]", 'id = "gelcoat-1"', f"title = {quoted(title)}",
        "stages = [" + ", ".join(f'"{s}"' for s in stages) + "]", head,
        "[panel]", 'name = "Panel G2"', 'material = "dark blue gelcoat, sanded and polished"',
    ]  # fmt: skip
    for key, name in names.items():
        lines += ["[[treatment]]", f'id = "{key}"', f"name = {quoted(name)}"]
        lines += ["control = true"] if key == control else []
    for zone, treatment in zones.items():
        lines += ["[[zone]]", f'id = "{zone}"', f'treatment = "{treatment}"']
    lines += [
        "[[measure]]", 'id = "gloss"', 'quantity = "gloss"', f"geometry = {channel}",
        f"replicates = {replicates}", 'order = "by-zone"', "margin = 0.3",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def full(folder: Path, seed: int = 1) -> Yard:
    """A whole story: drift, suspects, re-adjustment, voids, a loose reading given its place."""
    draw = random.Random(seed)
    yard = Yard(folder)
    text = plan_text()
    bare = {zone: 82.0 + 0.3 * k for k, zone in enumerate(ZONES)}

    def take(stage: str, zones: Sequence[str] = tuple(ZONES), offset: float = 0.0) -> None:
        for zone in zones:
            for _ in range(5):
                yard.clock.advance(4)
                gain = GAINS[ZONES[zone]][STAGES.index(stage)]
                yard.press("shore", f"{bare[zone] + gain + offset + draw.gauss(0, 0.15):.1f}")

    yard.plug("shore")
    yard.check("shore", tile="93.2")
    yard.press("shore", "82.0")
    yard.begin("bare", text=text)
    take("bare", ("A1", "A2"))
    yard.clock.advance(5)
    yard.press("shore", "71.4")
    number = yard.writer.query("SELECT max(id) FROM reading")[0][0]
    yard.act(lambda at: yard.acts.readings.void(number, "meter rocked on the edge", at))
    take("bare", ("A3", "B1", "B2", "B3"))
    yard.act(lambda at: yard.acts.runs.finish("all zones read", at))
    yard.clock.advance(600)
    yard.check("shore", tile="93.3")
    yard.clock.advance(86400)
    yard.act(yard.acts.close_sitting)
    yard.check("shore", tile="93.4")
    yard.begin("applied", text=text)
    take("applied")
    yard.act(lambda at: yard.acts.runs.finish("all zones read", at))
    yard.clock.advance(300)
    yard.check("shore", tile="93.5")
    yard.begin("wash-5", text=text)
    take("wash-5", ("A1", "A2"), offset=1.4)
    yard.clock.advance(60)
    yard.check("shore", tile="95.0")
    yard.press("shore", "84.9", flags=frozenset({Flag.ECHO}))
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore", tile="93.2")
    take("wash-5")
    yard.act(lambda at: yard.acts.runs.finish("all zones read", at))
    yard.check("shore", tile="94.1")
    yard.check("shore", tile="93.3")
    yard.unplug("shore")
    return yard


class ManyAngles(Yard):
    """A yard whose meters read, and are checked at, 20 and 60 degrees at one press."""

    def open(self) -> None:
        plain = bench(self.bench.store)

        def both(policy: CheckPolicy) -> CheckPolicy:
            return replace(policy, channels=("20", "60"))

        def certified(piece: Piece) -> Piece:
            (one,) = piece.certificates
            return replace(piece, certificates=(one, replace(one, channel="60")))

        self.bench = replace(
            plain,
            instruments=tuple(replace(i, policy=both(i.policy)) for i in plain.instruments),
            pieces=tuple(certified(p) for p in plain.pieces),
        )
        super().open()

    def check(self, instrument: str, tile: str = "93.2", trap: str = "0.0") -> None:
        self.act(lambda at: self.acts.checks.begin(instrument, at))
        for value in (tile, tile, trap, trap):
            for channel in ("20", "60"):
                self.clock.advance(1)
                self.press(instrument, value, channel=channel)
        self.clock.advance(1)


# What a drawing is made of but its texts: most of a page, and no part of what is read of it.
_SHAPES = re.compile(r"</?(?:g|path|use|defs|rect|line|circle)\b[^>]*>")


class Page(HTMLParser):
    """A page taken apart: its texts, its table rows, its tags and their attributes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.html = html
        self.texts: list[str] = []
        self.rows: list[list[str]] = []
        self._cell: list[str] | None = None
        self.feed(_SHAPES.sub("", html))
        self.close()

    @cached_property
    def tags(self) -> list[tuple[str, dict[str, str | None]]]:
        """Every tag of the page, those of its drawings among them."""
        found = _Tags()
        found.feed(self.html)
        found.close()
        return found.tags

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self._cell = []

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th") and self._cell is not None:
            self.rows[-1].append(" ".join("".join(self._cell).split()))
            self._cell = None

    def handle_data(self, data: str) -> None:
        self.texts.append(data)
        if self._cell is not None:
            self._cell.append(data)

    @property
    def text(self) -> str:
        """All of it, white space made single."""
        return " ".join("".join(self.texts).split())

    def row(self, *first: str) -> list[str]:
        """The only row that begins with these cells."""
        (found,) = [r for r in self.rows if tuple(r[: len(first)]) == first]
        return found


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


def page(yard: Yard, trial: str, folder: Path) -> Page:
    """The report of a yard's trial, taken apart; the yard may go on recording."""
    out = write_report(yard.bench.store, trial, folder / "report.html")
    return Page(out.read_text(encoding="utf-8"))
