"""The board of washing: one key a wash, the count in large, checkpoints as they are reached. Pure.

It shows the counts of stored rows alone, whoever counted them: its own keys, another terminal, a
counter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rich.text import Text

from acquire.live import blocks
from acquire.live.board import Ask, Board, Prompt
from acquire.live.canvas import FAINT, GOOD, STRONG, WARN, Glyphs, bar, headed, line, paragraph, row
from acquire.live.keys import ENTER
from acquire.live.screen import Screen
from acquire.live.tone import Tone
from acquire.live.words import clean
from acquire.model import Plan
from acquire.store.work_rows import WashRow
from acquire.trial.outoforder import leaves_a_stage
from acquire.trial.readiness import looks, names, washed
from acquire.trial.urgency import Due
from acquire.trial.washes import (
    Reached,
    checkpoints,
    counts_of,
    next_checkpoint,
    reached,
    shared,
    zones_of,
)

SPACE = " "
_CHANGES_DUES = ("wash", "run", "reading", "run_end", "check_judgement", "rating", "giving_up")
_PLUG = "Next: plug it in"
HELP = [
    "KEYS OF WASHING",
    "Space or Enter: one wash of the zones that are named, all of them together",
    "-    one wash less; asks for the reason, and both stay in the store",
    "z    wash other zones: type their names (A1 A2), or nothing for all",
    "q    leave; every wash that was shown is stored, and a counter counts no more",
    "",
    "A foot switch that types Space or Enter counts as well.",
]
KEYS = (
    ("Space", "one wash"),
    ("-", "one less"),
    ("z", "zones"),
    ("q", "leave"),
    ("?", "help"),
)


@dataclass(slots=True)
class WashBoard(Board):
    """The counts of a trial's zones; `zones` are those that are washed here."""

    plan: Plan | None = None
    zones: tuple[str, ...] = ()
    counts: dict[str, int] = field(default_factory=dict)
    counter: str = ""
    """The counter whose strokes count here; none where keys do."""
    strokes_per_wash: int = 1
    over: int = 0
    is_counting: bool = True
    due_at: Callable[[str], Sequence[Due]] | None = None
    """What is due at a stage, as the store stands; without it a checkpoint has but its command."""
    doubts: Callable[[Sequence[str]], Sequence[str]] = lambda _: ()
    """What one more wash of zones would do out of order; asked where they leave a stage's count."""
    _dues: dict[str, Sequence[Due]] = field(default_factory=dict)
    uncounted: Sequence[str] = ()
    """Strokes of before that no wash was counted for; they stand there until one is."""
    odd: str = ""
    """What of the counter did not fit last; it stays before the eyes until a key is pressed."""

    @property
    def trial(self) -> Plan:
        assert self.plan is not None
        return self.plan

    def recall(self, rows: list[WashRow]) -> None:
        """What was counted before."""
        self.counts = counts_of(self.trial, rows)
        self._latest["wash"] = max((r.id for r in rows), default=0)

    def counts_by(self, ready: Mapping[str, Any]) -> None:
        """A counter counts here, as the daemon says."""
        self.counter, self.over = str(ready["counter"]), int(ready["over"])
        self.strokes_per_wash = int(ready["strokes_per_wash"])

    def on_status(self, status: Mapping[str, Any]) -> None:
        """Whether the counter counts for this trial still, and how far the next wash has come."""
        for probe in status.get("probes", ()):
            if probe["id"] != self.counter:
                continue
            counting = probe["counting"]
            is_counting = counting is not None and counting["trial"] == self.trial.id
            if is_counting:
                self.over = int(counting["over"])
                here = set(counting["zones"])
                self.zones = tuple(zone for zone in self.counts if zone in here)
            elif self.is_counting:
                self.say(f"{self.counter} counts here no more. {self._again()}", Tone.TROUBLE)
            self.is_counting = is_counting

    def _again(self) -> str:
        return f"Next: q, then coatbench wash {self.trial.id} --counter {self.counter}"

    def on_row(self, item: Mapping[str, Any]) -> None:
        if self.counter and item.get("table") in ("incident", "disconnection", "connection"):
            self._told_of_counter(item)
        if item.get("table") in _CHANGES_DUES:
            self._dues.clear()
        if item.get("table") != "wash" or item["trial"] != self.trial.id:
            return
        self.uncounted = ()
        row = WashRow(*(item[name] for name in WashRow._fields))
        before = dict(self.counts)
        for zone in zones_of(row):
            if zone in self.counts:
                self.counts[zone] += row.washes
        came_to = reached(self.trial, before, self.counts, tuple(self.counts))
        for one in came_to:
            self.say(self.reached_words(one), Tone.TROUBLE)
        if not came_to:
            by = f" by {row.counted_by}" if row.reading_id else ""
            self.say(f"{'counted' if row.washes > 0 else 'corrected'}{by}: {row.washes:+d}")

    def _told_of_counter(self, item: Mapping[str, Any]) -> None:
        """What the counter does that is no stroke."""
        if item.get("instrument") == self.counter and item["table"] == "incident":
            self.odd = clean(item["message"])
        elif item["table"] == "disconnection":
            if self.story.of_connection(item["connection_id"]) == self.counter:
                self.say(f"{self.counter} is gone: no stroke is counted until it is back. {_PLUG}",
                         Tone.TROUBLE)  # fmt: skip
        elif item.get("instrument") == self.counter:
            self.say(f"{self.counter} is there; strokes count from now on")

    def on_key(self, key: str) -> list[Ask]:
        self.odd = ""
        if key in (SPACE, ENTER):
            return self._wash()
        if key == "-":
            self.prompt = Prompt("why one wash less", "less")
        elif key == "z":
            self.prompt = Prompt("zones to wash, nothing for all", "zones")
        return []

    def _wash(self) -> list[Ask]:
        ask = self._ask("wash", washes=1, by_key=True)
        if not leaves_a_stage(self.trial, self.counts, self.zones):
            return [ask]
        found = self.doubts(self.zones)
        if not found:
            return [ask]
        self.page = ["THIS WASH IS OUT OF ORDER", *map(clean, found)]
        self.prompt = Prompt("count it all the same: type yes", "anyway", ask)
        return []

    def on_answer(self, about: str, text: str, of: object) -> list[Ask]:
        if about == "less":
            return [self._ask("correct_washes", washes=-1, reason=text)]
        if about == "anyway":
            if text.lower() in ("y", "yes"):
                assert isinstance(of, Ask)
                return [of]
            self.say("no wash was counted")
            return []
        wanted = text.replace(",", " ").split()
        by_name = {zone.lower(): zone for zone in self.counts}
        strange = [zone for zone in wanted if zone.lower() not in by_name]
        if strange:
            self.say(f"no zone {strange[0]}; there are {names(tuple(self.counts))}", Tone.REFUSED)
            return []
        chosen = {by_name[zone.lower()] for zone in wanted}
        self.zones = tuple(z for z in self.counts if not chosen or z in chosen)
        self.say(f"washing {names(self.zones)}")
        if self.counter and self.is_counting:
            return [self._ask("count_washes", counter=self.counter)]
        return []

    def _ask(self, call: str, **more: object) -> Ask:
        return Ask(call, {"trial": self.trial.id, "zones": list(self.zones), **more})

    def help(self) -> list[str]:
        return HELP

    def at_checkpoints(self) -> list[Reached]:
        """The checkpoints at which zones that are washed here stand now."""
        found = []
        for point in checkpoints(self.trial):
            zones = tuple(z for z in self.zones if self.counts[z] == point.washes)
            found += [Reached(point, zones)] if zones else []
        return found

    def reached_words(self, one: Reached) -> str:
        """That a checkpoint is reached, with what is due there, or was gone past."""
        stage = one.at.stage
        if one.is_past or self.due_at is None:
            return reached_words(self.trial, one)
        if stage not in self._dues:
            self._dues[stage] = self.due_at(stage)
        return reached_words(self.trial, one, self._dues[stage])

    def state_lines(self) -> dict[str, str]:
        said = "; ".join(f"{names(z)}: {washed(n)}" for n, z in shared(self.counts))
        return {"counts": f"{self.trial.id}: {said}"}


def reached_words(plan: Plan, one: Reached, dues: Sequence[Due] | None = None) -> str:
    """That a checkpoint is reached, or was gone past; `dues` are what is due there, if known."""
    trial, stage = plan.id, one.at.stage
    if one.is_past:
        return (
            f"{names(one.zones)} went past {stage}, which comes after {washed(one.at.washes)}. "
            f"Next: coatbench wash {trial} --correct -1 --reason ... if that was miscounted"
        )
    said = f"CHECKPOINT {stage} reached by {names(one.zones)} ({washed(one.at.washes)})"
    if dues is None:
        return ". Next: ".join([said, *looks(plan, stage)])
    if not dues:
        return f"{said}, and all is taken there. Next: wash on"
    return ". ".join([said, *(f"{due.what}. Next: {due.command}" for due in dues)])


class WashScreen(Screen):
    """The count in large, what is still to go, the counts of all zones."""

    def __init__(self, board: WashBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> WashBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._board, self._glyphs
        plan = board.trial
        head = [
            row(
                Text.assemble((clean(plan.id), STRONG), f"  {clean(plan.title)}"),
                Text("washing"),
                width,
            ),
            headed("", width, glyphs),
        ]
        here = {zone: board.counts[zone] for zone in board.zones}
        groups = shared(here)
        tall = blocks.tallness(width, height, 16)
        body = paragraph(f"WASHES of {names(board.zones)}", width, 2, STRONG)
        large = "/".join(str(n) for n, _ in groups) if len(groups) <= 3 else "..."
        body += blocks.large(large, width, tall, glyphs)
        body += self._counter(width)
        for told in board.uncounted:
            body += paragraph(clean(told), width, 4, WARN)
        body += self._ahead(width, min(here.values(), default=0))
        for one in board.at_checkpoints():
            body += paragraph(board.reached_words(one), width, 5, WARN)
        body.append(line())
        for count, zones in shared(board.counts):
            body += paragraph(f"{washed(count)}: {names(zones)}", width, 2)
        body += [line(), *self._recipe(width)]
        foot = blocks.foot(board, KEYS, width, height)
        room = height - len(head) - len(foot)
        return [*head, *body[:room], *(line() for _ in range(room - len(body))), *foot]

    def _counter(self, width: int) -> list[Text]:
        board = self._board
        if not board.counter:
            return []
        if not board.is_counting:
            return paragraph(f"{board.counter} COUNTS NO MORE", width, 2, WARN)
        each = board.strokes_per_wash
        odd = paragraph(board.odd, width, 3, WARN) if board.odd else []
        told = f"counted by {board.counter}"
        told += f": stroke {board.over} of {each} of the next wash" if each > 1 else ", each stroke"
        return [*paragraph(told, width, 2), *odd]

    def _ahead(self, width: int, count: int) -> list[Text]:
        plan = self._board.trial
        ahead = next_checkpoint(plan, count)
        if ahead is None:
            said = "the last checkpoint is behind" if checkpoints(plan) else "no checkpoint planned"
            return [line(said, FAINT)]
        words = f"  {washed(ahead.washes - count)} to go to {ahead.stage}"
        done = bar(count, ahead.washes, max(5, width - len(words)), self._glyphs)
        return [Text.assemble(done, (words, GOOD), no_wrap=True, end="")]

    def _recipe(self, width: int) -> list[Text]:
        recipe = self._board.trial.recipe
        if not recipe:
            return []
        told = "; ".join(f"{what}: {clean(how)}" for what, how in recipe)
        return paragraph(f"every wash: {told}", width, 3, FAINT)
