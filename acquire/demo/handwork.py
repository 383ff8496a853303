"""What the people of the demo do by hand: put products on, wash, rate; each act is recorded."""

from __future__ import annotations

from acquire.control.client import Client
from acquire.demo.plan import APPLIES, RATERS, TRIAL
from acquire.demo.story import Story
from acquire.demo.truth import REMOVAL, Truth
from acquire.demo.typed import Typed
from acquire.testkit.simulated import Simulated

WATER, PRODUCTS = "water", "removal"
_MARTEN_IS_STRICTER_ON = ("A2", "B4")
"""Where the second rater gives a step less (invented)."""

_DROPS = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 120 80">
<rect width="120" height="80" fill="#16233d"/>
<g fill="#9fc3dc"><circle cx="30" cy="30" r="9"/><circle cx="62" cy="22" r="6"/>
<circle cx="84" cy="48" r="11"/><circle cx="46" cy="58" r="7"/></g></svg>
"""
"""What a camera would have seen of the wet zone (invented, as all here)."""


class Handwork:
    """Ines measures and rates, Marten rates too, Jonas knows the key and puts the products on."""

    def __init__(
        self, story: Story, client: Client, typed: Typed, bench: Simulated, truth: Truth
    ) -> None:
        self._story = story
        self._client = client
        self._typed = typed
        self._bench = bench
        self._truth = truth

    def apply(self) -> None:
        """The products go onto their zones, by the sheet that one person alone has."""
        self._typed.type("trial", "key", TRIAL, "--to", APPLIES, "--out", "sheet.txt")
        first, *others = self._truth.treated
        self._typed.type("apply", TRIAL, first, "--amount", "4 ml", "--haze-minutes", "3")
        self._client.call(
            "apply", trial=TRIAL, zones=others, treatment="", amount="4 ml", haze_minutes=3,
            applied_utc_ns=None, text="",
        )  # fmt: skip
        self._story.tell(f"and the other {len(others)} zones likewise")
        self.lay("applied")

    def rate_products(self) -> None:
        """How each product comes off, as who put it on finds, and a second person."""
        for who, less in ((APPLIES, 0), (RATERS[1], 1)):
            for code, product in self._truth.products.items():
                if product in REMOVAL:
                    step = REMOVAL[product] - (less if code == max(self._truth.products) else 0)
                    self._rate(PRODUCTS, who, step, treatment=code)
        self._story.tell(
            f"{APPLIES} and {RATERS[1]} rate how each product comes off, by steps that are written "
            f"out (coatbench rate {TRIAL} --products --by {RATERS[1]}); {APPLIES} has seen the "
            "key, so his ratings are marked as not blind"
        )

    def rate_water(self, stage: str) -> None:
        """How water behaves on every zone, as both raters see it, blind."""
        first, *others = self._truth.zones
        for who in RATERS:
            for zone in (first, *others):
                step = self._truth.water(zone, stage)
                is_strict = who == RATERS[1] and zone in _MARTEN_IS_STRICTER_ON
                self._rate(WATER, who, max(1, step - is_strict), stage=stage, zone=zone)
        self._story.tell(
            f"{' and '.join(RATERS)} rate how water behaves on {1 + len(others)} zones at {stage}, "
            f"blind (coatbench rate {TRIAL} {stage} --by {RATERS[0]})"
        )

    def wash(self, washes: int, stage: str) -> None:
        """All zones are washed together, and each wash is counted."""
        self._typed.type("wash", TRIAL, "--count", str(washes))
        self.lay(stage)

    def photograph(self, stage: str) -> None:
        """A picture of how water stands on a zone, recorded by its path and hash."""
        zone = self._truth.treated[0]
        name = f"water-{zone}-{stage}.svg"
        (self._typed.folder / name).write_text(_DROPS, "utf-8", newline="\n")
        self._typed.type("photo", TRIAL, name, "--zone", zone, "--stage", stage)

    def ask_what_is_due(self) -> None:
        """The tester comes back after days."""
        self._typed.type("next", TRIAL)

    def lay(self, stage: str) -> None:
        """What befell the zones, told to the simulated devices alone."""
        for line in self._truth.lay_lines(stage):
            self._bench.do(line)

    def _rate(
        self, scale: str, rater: str, step: int, *, stage: str = "", zone: str = "",
        treatment: str = "",
    ) -> None:  # fmt: skip
        self._client.call(
            "rate", trial=TRIAL, scale=scale, stage=stage, zone=zone, treatment=treatment,
            rater=rater, step=step, reason="",
        )  # fmt: skip
