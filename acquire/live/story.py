"""What happened at the bench, row by row, in one line each. Pure; the screen's thread.

A row of the daemon's stream (an object with ``table`` and the columns of that table) becomes at
most one happening. Nothing is told here that is not on disk: the stream carries stored rows only.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from datetime import datetime, tzinfo
from typing import NamedTuple

from acquire.live.aside import Aside
from acquire.live.telling import TELLERS, Item
from acquire.live.tone import Tone
from acquire.live.words import clean, hour, times
from acquire.model import TYPED_BY_HAND, IncidentKind, NoticeKind, Quantity

KEPT_LINES = 200

ENTRY = "entry"
"""Stands for the table of an entry that is not accepted."""


class Happening(NamedTuple):
    """One line of the story. `at` is the hour; `who` an instrument, or empty for the bench."""

    at: str
    who: str
    text: str
    tone: Tone
    table: str

    def __str__(self) -> str:
        who = f"{self.who}: " if self.who else ""
        return f"{self.at} {self.tone.mark} {who}{self.text}"


class Story:
    """The last happenings, and what rows alone do not say: whose connection, whose check.

    `connections` and `checks` name the instrument of those that began before the story did;
    `typed` are the connections among them through which values are typed.
    """

    def __init__(
        self,
        connections: Mapping[int, str] | None = None,
        checks: Mapping[int, str] | None = None,
        zone: tzinfo | None = None,
        typed: Iterable[int] = (),
    ) -> None:
        self.happenings: deque[Happening] = deque(maxlen=KEPT_LINES)
        self._connections = dict(connections or {})
        self._checks = dict(checks or {})
        self._zone = zone
        self._typed = set(typed)
        self._aside = Aside()
        self._held: dict[str, int] = {}
        """The check that holds for an instrument, by the rows that came."""
        self._begun: dict[str, int] = {}
        """The check of an instrument that is under way."""
        self._told: set[int] = set()
        """Checks of which the line about an unplug has told that they ended."""
        self._gone: dict[str, str] = {}
        """What instruments that are gone wait for, as their disconnection has told."""
        self._named: dict[str, str] = {}
        """Who instruments said that they are, in this sitting."""

    def fold(self, item: Item) -> Happening | None:
        """Take in an object of the stream and give the happening it is, if it is one."""
        if "missed" in item:
            told = Happening(
                "--:--:--",
                "",
                f"{times(int(item['missed']), 'row')} came too fast to be shown here; "
                "all of them are stored",
                Tone.PLAIN,
                "",
            )
        else:
            table = str(item.get("table", ""))
            teller = TELLERS.get(table)
            if teller is None or self._is_told(table, item):
                return None
            self._learn(table, item)
            who, text, tone = teller(self, item)
            if table == "reading" and self._aside.hear(item):
                text, tone = text.replace(" not accepted (", " not asked for (", 1), Tone.PLAIN
            self._forget(table, item)
            at_ns = item["until_utc_ns"] if table == "gap" else item["at_utc_ns"]
            # A link begins its messages with the instrument's name, which stands here already.
            text = text.removeprefix(f"{who}: ")
            # What was typed is an answer to somebody, and no disturbance of a line.
            table = ENTRY if table == "noise" and self.is_typed(item) else table
            told = Happening(hour(at_ns, self._zone), clean(who), clean(text), tone, table)
        self.happenings.append(told)
        return told

    def add(self, at_iso: str, who: str, text: str, tone: Tone) -> Happening:
        """Tell what no row says by itself; `at_iso` is a moment as the status has it."""
        at = datetime.fromisoformat(at_iso).astimezone(self._zone)
        told = Happening(f"{at:%H:%M:%S}", clean(who), clean(text), tone, "")
        self.happenings.append(told)
        return told

    def _learn(self, table: str, item: Item) -> None:
        if table == "connection":
            self._connections[item["id"]] = item["instrument"]
            if item["opened_as"] == TYPED_BY_HAND:
                self._typed.add(item["id"])
        elif table == "check_begin":
            self._checks[item["id"]] = item["instrument"]
            self._begun[item["instrument"]] = item["id"]
        elif table == "sitting":
            self._named.clear()
        elif table == "notice" and item["kind"] == NoticeKind.IDENTITY.value:
            self._named[item["instrument"]] = item["text"]
        elif table == "check_judgement" and item["outcome"] == "pass":
            self._held[self.of_check(item["check_id"])] = item["check_id"]

    def _forget(self, table: str, item: Item) -> None:
        if table == "disconnection":
            _, _, self._gone[self.of_connection(item["connection_id"])] = str(
                item["message"]
            ).partition(". Next: ")
        elif table == "connection":
            self._gone.pop(item["instrument"], None)
        elif table in ("check_judgement", "pass_end"):
            kept = self._held if table == "pass_end" else self._begun
            who = self.of_check(item["check_id"])
            if kept.get(who) == item["check_id"]:
                del kept[who]

    def _is_told(self, table: str, item: Item) -> bool:
        """Whether another line tells of it: an unplug is several rows, and one thing."""
        if table == "incident":
            if item["kind"] == IncidentKind.LINK_LOST.value:
                # The disconnection that comes of it says it with the same words.
                return True
            # That it is not there follows from that, once, while nothing else is to be done.
            step = self._gone.pop(item["instrument"], "")
            return bool(step) and str(item["message"]).endswith(f". Next: {step}")
        if table == "pass_end":
            return item["check_id"] in self._told
        if table == "reading":
            # A climate probe tells all the time; the row of the climate says what is news.
            return bool(item["quantity"] == Quantity.CLIMATE)
        if table == "notice" and item["kind"] == NoticeKind.IDENTITY.value:
            # It is asked at every connection; only another answer is news.
            return bool(self._named.get(item["instrument"]) == item["text"])
        is_undecided = table == "check_judgement" and item["outcome"] == "undecided"
        return is_undecided and item["check_id"] in self._told

    def ended_with(self, instrument: str) -> list[str]:
        """Which checks of an instrument end with its connection, in words; told only once."""
        ended = []
        if (held := self._held.pop(instrument, None)) is not None:
            ended.append(f"check {held} ended with that")
            self._told.add(held)
        if (begun := self._begun.pop(instrument, None)) is not None:
            ended.append(f"check {begun}, which was under way, is broken off")
            self._told.add(begun)
        return ended

    def of_connection(self, connection_id: int) -> str:
        return self._connections.get(connection_id, "")

    def is_typed(self, item: Item) -> bool:
        """Whether a row came through a connection of which the values are typed."""
        return item.get("connection_id") in self._typed

    def of_check(self, check_id: int) -> str:
        return self._checks.get(check_id, "")
