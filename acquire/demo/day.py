"""The day of the demo, chapter by chapter: what the tester does, and what the daemon says to it."""

from __future__ import annotations

from pathlib import Path

from acquire.clock import SystemClock
from acquire.control.client import Client
from acquire.demo import scenario
from acquire.demo.handwork import Handwork
from acquire.demo.plan import FILM, GLOSS, TRIAL
from acquire.demo.story import Story
from acquire.demo.tester import Tester, shown
from acquire.drift.asked import told_of
from acquire.errors import ControlError, Refused
from acquire.live.adjusted import as_found_as_left
from acquire.live.suspects import words_of
from acquire.schema import load_text
from acquire.store import StoreReader
from acquire.testkit.simulated import Simulated


def opening_checks(story: Story, tester: Tester, store: Path) -> None:
    """Every instrument against its pieces, and what the checks of all weeks say together."""
    story.chapter("Opening checks: tiles and black trap, weights, open beam, dark and filter")
    for name in ("shore", "deck", "pocket", "hook", "scale", "light"):
        tell_check(story, tester, name, "opening check")
    story.tell("all pass. What the checks of all weeks say together is told beside that:")
    with StoreReader(store) as reader:
        for line in told_of(reader, "shore", SystemClock().now().utc_ns):
            story.tell(line, "bold")
    sled = tester.press_idly("scale", "sled")
    story.tell(
        f"the sled of hook lies on the balance: {shown([sled])}. No run is open, so reading "
        f"{sled['id']} is kept loose"
    )


def tell_check(story: Story, tester: Tester, name: str, purpose: str) -> None:
    """A whole check, and what came of it."""
    found = tester.check(name)
    story.tell(
        f"{purpose} of {name}: {found['outcome'].upper()}, {found['message']}",
        "" if found["outcome"] == "pass" else "bold",
    )


class Day:
    """`plan_file` is the trial file, `store` the file that the daemon records into."""

    def __init__(
        self,
        story: Story,
        client: Client,
        tester: Tester,
        bench: Simulated,
        hands: Handwork,
        plan_file: Path,
        store: Path,
    ) -> None:
        self._story = story
        self._client = client
        self._tester = tester
        self._bench = bench
        self._hands = hands
        self._text = load_text(plan_file)
        self._source = plan_file.name
        self._store = store

    def play(self) -> None:
        """All chapters."""
        self._bare()
        self._applied()
        self._undecided()
        self._blocked()
        self._readjusted()
        self._knocked()
        self._washed_again()

    # -- chapters --------------------------------------------------------------------------------

    def _bare(self) -> None:
        story = self._story
        story.chapter("Bare zones: the tester presses the meter's button, zone by zone")
        self._fill(GLOSS, "bare", "shore")
        self._client.call("note", text=scenario.CLOCK, trial=TRIAL, stage="bare")
        story.tell(
            "deck sends nothing by itself: the daemon asks it, and one press has three values"
        )
        self._fill("geometry", "bare", "deck")
        self._fill("slickness", "bare", "hook")
        self._fill(FILM, "bare", "light")
        self._check("closing check", "shore", "deck")

    def _applied(self) -> None:
        story = self._story
        story.chapter("The protectants are applied by their labels; the gelcoat cures")
        self._hands.apply()
        self._hands.rate_products()
        self._tester.fill(self._text, self._source, GLOSS, "applied", "shore", slip_at=9)
        story.tell("pocket has no port: the tester types what it shows, twice")
        self._fill("pocket", "applied", "pocket")
        self._fill("slickness", "applied", "hook")
        self._fill(FILM, "applied", "light")
        self._hands.rate_water("applied")
        self._check("closing check", "shore", "pocket", "hook", "light")

    def _undecided(self) -> None:
        story = self._story
        story.chapter("Weeks later (a moment here): five washes, and the drift has gone on")
        self._hands.wash(5, "wash-5")
        self._bench.do(f"drift shore gain={scenario.WASHES_GAIN}")
        self._check("opening check", "shore")
        story.tell("nobody can say whether it is inside its limit, so nothing is read by it:")
        self._refused(GLOSS, "wash-5", "shore")

    def _blocked(self) -> None:
        story = self._story
        story.chapter("All is cleaned and checked again a week later; the drift goes on faster")
        self._bench.do(f"drift shore gain={scenario.AFTER_GAIN}")
        self._check("opening check", "shore")
        self._refused(GLOSS, "wash-5", "shore")
        loose = self._tester.press_idly("shore", "A1")
        story.tell(
            f"a press on zone A1 all the same: reading {loose['id']} is kept loose and counts for "
            f"nothing ({loose['loose_reason']})"
        )

    def _readjusted(self) -> None:
        self._story.chapter("The meter is re-adjusted by its own button and checked again")
        self._readjust("shore")
        self._fill(GLOSS, "wash-5", "shore")

    def _knocked(self) -> None:
        story = self._story
        story.chapter("Somebody knocks the meter off the bench before the closing check")
        self._bench.do(f"drift shore gain={scenario.KNOCK_GAIN}")
        self._check("closing check", "shore")
        suspects = self._client.call("status")["suspects"]
        story.tell(words_of(suspects), "bold")
        self._readjust("shore")
        story.tell("the places that are open again are read again:")
        self._fill(GLOSS, "wash-5", "shore")
        self._fill("slickness", "wash-5", "hook")
        self._hands.rate_water("wash-5")
        self._hands.photograph("wash-5")
        self._check("closing check", "shore")

    def _washed_again(self) -> None:
        self._story.chapter("Five more washes, ten in all: who lasts?")
        self._hands.ask_what_is_due()
        self._hands.wash(5, "wash-10")
        self._fill(GLOSS, "wash-10", "shore")
        self._fill("slickness", "wash-10", "hook")
        self._hands.rate_water("wash-10")
        self._check("closing check", "shore", "hook")

    # -- what a tester does again and again --------------------------------------------------------

    def _check(self, purpose: str, *names: str) -> None:
        for name in names:
            tell_check(self._story, self._tester, name, purpose)

    def _fill(self, measure: str, stage: str, name: str) -> None:
        self._tester.fill(self._text, self._source, measure, stage, name)

    def _refused(self, measure: str, stage: str, name: str) -> None:
        """Try to begin a run that may not begin."""
        try:
            self._fill(measure, stage, name)
        except Refused as refused:
            self._story.tell(f"{refused.what} ({refused.reason})", "bold")
            self._story.tell(f"why:   {refused.got}")
            self._story.tell(f"next:  {refused.next_step}")
        else:
            raise ControlError("a drifted meter started a run", next_step="report this fault")

    def _readjust(self, name: str) -> None:
        """Zero and scale by the meter's own button, and the check that tells how it is left."""
        self._tester.adjust(name, "Z0")
        self._tester.adjust(name, "T1")
        self._check("check after re-adjustment", name)
        with StoreReader(self._store) as reader:
            latest = reader.one("SELECT max(check_id) FROM check_judgement")
            for line in as_found_as_left(reader, int(latest)):
                self._story.tell(line)
