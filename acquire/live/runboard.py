"""The board of a run: next target, last reading, what blocks it, the keys that steer it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from acquire.errors import CoatbenchError, NotFound
from acquire.live import abandon
from acquire.live.board import Ask, Board, Ending, Prompt, Status, asked_words, denial
from acquire.live.entry import HELP as ENTRY_HELP
from acquire.live.entry import Entry
from acquire.live.keys import ENTER
from acquire.live.places import Places, Wanted
from acquire.live.strange import strange
from acquire.live.tone import Tone
from acquire.live.words import (
    TAKE_KEY,
    angle,
    check_step,
    clean,
    figure,
    place,
    reading_words,
    shared_words,
    taken_words,
    times,
    voided_words,
)
from acquire.model import channel_label
from acquire.units import symbol

HELP = [
    "KEYS OF A RUN",
    "s    skip the next target; it comes back after the others",
    "b    back to the open target before this one",
    "g    go to a zone: type its name, and a replicate if you like (a2 3)",
    "v    void the last reading; asks for the reason, and its place comes next; in a check its "
    "piece is read anew",
    "t    take: ask the meter for a reading, if it is one that must be asked",
    ENTRY_HELP,
    "c    check the meter from here; readings go to its reference pieces until that is done",
    "a    abandon such a check; with readings in it, it ends the pass before it, too",
    "f    finish the run; places that are still open can be filled by another run",
    "q    leave this screen; the run stays open (coatbench run --resume comes back to it)",
    "",
    "One bell: accepted. Two bells: not accepted. The line of what happened says why.",
    "Every reading is on disk before it is shown. Nothing is ever deleted.",
]

NOTHING_TO_VOID = (
    "there is nothing to void here. Next: coatbench readings lists the numbers, "
    "coatbench void NUMBER takes one out"
)


@dataclass(slots=True)
class RunBoard(Board):
    """State of the screen of run `run_id`, measured with `meter`."""

    run_id: int = 0
    meter: str = ""
    run: Mapping[str, Any] | None = None
    taken: list[tuple[int, str]] = field(default_factory=list)
    """Readings of this run that this board saw accepted and not voided, with their words."""
    places: Places = field(default_factory=Places)
    entry: Entry = field(init=False)
    _gone_to: Wanted | None = None
    _asked_to_finish: bool = False
    _means: str = ""
    _is_opened: bool = False
    """Whether a void opened a place again, and no status has told since which comes next."""
    _is_anew: bool = False
    """The same of a piece that is read anew, in a check of the meter under way."""

    def __post_init__(self) -> None:
        self.entry = Entry(self.meter)

    # -- what is heard ---------------------------------------------------------------------------

    def on_row(self, item: Mapping[str, Any]) -> None:
        table = item.get("table")
        self.entry.on_row(self, item)
        self.note_lost(item, self.meter)
        if table == "reading" and item["instrument"] == self.meter:
            self.last = item
            if item["role"] == "run" and item["run_id"] == self.run_id:
                words = f"{reading_words(item)}, {place(item['zone'], item['replicate'])}"
                self.taken.append((item["id"], words))
        elif table == "void":
            self._is_opened = self._is_opened or any(t[0] == item["reading_id"] for t in self.taken)
            self.taken = [t for t in self.taken if t[0] != item["reading_id"]]
            last = self.last
            if last is not None and (last["id"], last["role"]) == (item["reading_id"], "check"):
                self._is_anew = True
        elif table == "run_end" and item["run_id"] == self.run_id:
            self.ending = self.ending or Ending("ended", open_slots=item["open_slots"])

    def on_status(self, status: Status) -> None:
        run = status["run"]
        if run is not None and run["run_id"] == self.run_id:
            self.run = run
            if self._is_opened:
                # Press and void of one moment leave the place that was told last; said again, for
                # the line of the press has come between.
                self._is_opened = False
                self.retell("next")
            if self._is_anew:
                self._is_anew = False
                self.retell("sign")
            # A status of a run that goes on names no zone yet; the last one known still stands.
            self._means = self._mean_words(run) or self._means
            self._say_far(run)
            # A press that was meant for the run goes into a check that is under way.
            for reading_id, words in strange(self.checking):
                self.say_far(reading_id, words)
        elif self.run is not None:
            # It was ours and is no more: finished elsewhere, with the row of its end missed.
            self.ending = self.ending or Ending("ended", open_slots=self.run["slots_left"])

    def _say_far(self, run: Mapping[str, Any]) -> None:
        unit = symbol(run["unit"])
        for far in run.get("far", ()):
            value = f"{figure(far['value'])} {unit}".rstrip() + angle(far["channel"])
            others = (
                "what a zone reads"
                if far["mean"] is None
                else f"the others here (mean {far['mean']:.2f} {unit} of {far['others']})"
            )
            self.say_far(far["reading_id"], f"{value} is far from {others}")

    def on_done(self, call: str, reply: Mapping[str, Any]) -> None:
        match call:
            case "skip":
                self.say(
                    "skipped; it comes back after the others"
                    if reply["moved"]
                    else f"{_named(reply)} is the only open place; nothing was skipped"
                )
            case "back":
                self.say(
                    f"next: {_named(reply)}"
                    if reply["moved"]
                    else f"{_named(reply)} is the first open place; none is before it. "
                    "Next: g goes to any zone"
                )
            case "go_to":
                target = reply.get("next")
                self.say(f"next: {place(target['zone'], target['replicate'])}" if target else "")
            case "void":
                self.say(voided_words(reply))
            case "type":
                self.entry.done(self, reply)
            case "take":
                self.say(*asked_words(self.meter, reply))
            case "begin_check":
                self.say(f"check {reply['check_id']} began; what was measured stays where it is")

    # -- what is so ------------------------------------------------------------------------------

    @property
    def is_complete(self) -> bool:
        return self.run is not None and self.run["slots_left"] == 0

    @property
    def own(self) -> Mapping[str, Any] | None:
        """The status entry of the run's instrument."""
        return self.instrument(self.meter)

    @property
    def checking(self) -> Mapping[str, Any] | None:
        """The check of the run's instrument that is under way, as the status has it."""
        own = self.own
        return own["checking"] if own is not None else None

    def check_words(self, asked_by: str = TAKE_KEY) -> str:
        """What is to be done for the check under way; empty if none is.

        `asked_by` is what asks the meter; empty for the command.
        """
        own = self.own
        if own is None or own["checking"] is None:
            return ""
        return check_step(own, asked_by) or "all pieces are read; the verdict comes"

    def stop_sign(self, asked_by: str = TAKE_KEY) -> tuple[str, str, str] | None:
        """Why no reading counts now: heading, reason, next step; None if readings count."""
        run, own = self.run, self.own
        if run is None or own is None:
            return None
        checking, step = own["checking"], self.check_words(asked_by)
        if checking is not None:
            return (
                "CHECK UNDER WAY",
                f"piece {checking['step']} of {checking['steps']}: {step}"
                if checking["piece"]
                else step,
                "readings count for the run again when the check has passed",
            )
        if run["blocked"] is not None:
            blocked = run["blocked"]
            return "BLOCKED, no reading counts now", blocked["message"], blocked["next_step"]
        if not own["connected"]:
            return (
                f"{clean(self.meter)} IS NOT CONNECTED",
                own["message"],
                f"plug {self.meter} in and switch it on; it is found by itself",
            )
        return None

    def means(self) -> str:
        """Running mean and number of the zone of the last reading, for each channel."""
        return self._means

    def _mean_words(self, run: Mapping[str, Any]) -> str:
        if run["zone"] is None:
            return ""
        unit = symbol(run["unit"])
        last = run["last_taken"] or self.last
        sent = str(last["value"]) if last is not None else "0.0"
        # One digit more than the readings have.
        digits = min(4, len(sent.partition(".")[2]) + 1)
        parts = []
        for channel, mean in run["zone_means"].items():
            if mean["count"]:
                label = f"{clean(channel_label(channel))}: " if len(run["zone_means"]) > 1 else ""
                value = f"{mean['mean']:.{digits}f}"
                parts.append(f"{label}mean {value} {unit} of {mean['count']}".replace("  ", " "))
        return f"zone {clean(run['zone'])}: {'; '.join(parts) or 'no reading'}"

    def next_words(self) -> str:
        run = self.run
        if run is None or run["next"] is None:
            return ""
        target = run["next"]
        return (
            f"zone {clean(target['zone'])} ({clean(target['treatment'])}), {clean(run['stage'])}, "
            f"replicate {target['replicate']} of {target['replicates']}"
        )

    # -- keys ------------------------------------------------------------------------------------

    def on_key(self, key: str) -> list[Ask]:
        if self.entry.opens(self, key):
            return []
        if key == "a" and self.checking is not None:
            abandon.ask_to_abandon(self, self.meter)
            return []
        if key in ("s", "c") and self.checking is not None:
            # While a check is under way what is next is a piece and not a place.
            then = "when it has passed, s skips" if key == "s" else "read it, or a abandons it"
            self.say(
                f"a check is under way: {self.check_words()}. Next: {then}",
                Tone.REFUSED,
            )
            return []
        match key:
            case "s":
                return [Ask("skip", {})]
            case "b":
                return [Ask("back", {})]
            case "t":
                return self.take_asked(self.meter)
            case "c":
                return [Ask("begin_check", {"instrument": self.meter})]
            case "g":
                self.prompt = Prompt("go to zone (and replicate)", "go")
            case "v":
                self._void_last()
            case "f" if not self.is_complete:
                left = times(self.run["slots_left"], "reading") if self.run else "readings"
                self.prompt = Prompt(f"{left} still to take; why finish now", "finish")
            case "f":
                return self._finish("complete")
            case _ if key == ENTER and self.is_complete:
                return self._finish("complete")
        return []

    def on_answer(self, about: str, text: str, of: object) -> list[Ask]:
        if about == "entry":
            return self.entry.given(self, text)
        if about == "finish":
            return self._finish(text or "finished at the bench")
        if about == abandon.ABOUT:
            return abandon.answered(self, self.meter, text)
        if about == "void" and not text:
            return self.ask_again(of)
        if not text:
            self.say("nothing was changed: nothing was typed")
            return []
        if about == "void":
            return [Ask("void", {"reading_id": of, "reason": text})]
        wanted = self.places.find(text)
        if isinstance(wanted, str):
            self.say(wanted, Tone.REFUSED)
            return []
        self._gone_to = wanted
        return [Ask("go_to", wanted._asdict())]

    def denied(self, call: str, error: CoatbenchError) -> str:
        if call == "go_to" and self.places and isinstance(error, NotFound):
            # The place is one of the plan, so it can only be filled.
            every = "is" if self._gone_to and self._gone_to.replicate else "has every place"
            return (
                f"zone {self._gone_to} {every} filled. Next: g and another zone, or v to void "
                "a reading"
            )
        return denial(error)

    def _void_last(self) -> None:
        """The last reading that this board knows of: of the check under way, else of the run."""
        last = (self.checking or self.run or {}).get("last_taken")
        if self.checking is None and self.taken:
            self.ask_why_void(*self.taken[-1])
        elif last is not None:
            self.ask_why_void(last["reading_id"], taken_words(last))
        else:
            self.say(NOTHING_TO_VOID, Tone.REFUSED)

    def _finish(self, why: str) -> list[Ask]:
        return [Ask("finish_run", {"why": why})]

    def help(self) -> list[str]:
        return HELP

    # -- without a screen ------------------------------------------------------------------------

    def state_lines(self) -> dict[str, str]:
        if self.run is None:
            return {}
        sign = self.stop_sign("")
        left = self.run["slots_left"]
        return {
            "sign": f"{sign[0]}: {sign[1]}. Next: {sign[2]}" if sign else "",
            "shared": shared_words(self.own),
            "typed": self.typed_words(),
            "next": "all readings are taken"
            if self.is_complete
            else f"next: {self.next_words()}; {times(left, 'reading')} left",
        }

    def typed_words(self) -> str:
        """How values get in where nobody presses keys; empty where the meter has a port."""
        words = "" if self.is_complete else self.entry.words(self)
        return f"{words} (coatbench type {clean(self.meter)} VALUE)" if words else ""

    def unattended(self) -> list[Ask]:
        """Where nobody presses Enter a run that is complete is finished by itself."""
        if not self.is_complete or self._asked_to_finish or self.ending is not None:
            return []
        self._asked_to_finish = True
        return self._finish("complete")


def _named(reply: Mapping[str, Any]) -> str:
    target = reply["next"]
    return place(target["zone"], target["replicate"]) if target else "no place"
