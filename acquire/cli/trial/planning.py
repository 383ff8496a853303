"""The questions of `coatbench trial new`, in their order, and what is proposed for each.

Main thread. Reads the bench's store for proposals; writes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from acquire.cli.foretold import scale_of
from acquire.cli.trial.asking import Asking
from acquire.cli.trial.parsing import (
    NONE,
    a_seed,
    each_once,
    is_yes,
    name,
    name_or_none,
    or_none,
    scales_named,
    share_or_none,
    sled_or_none,
    stage_names,
)
from acquire.cli.trial.proposing import usual_measures
from acquire.cli.trial.sizing import Sizing, paired
from acquire.errors import SettingsError
from acquire.model import Design, Panel, Scale
from acquire.schema import unlike_id
from acquire.trial import answers
from acquire.trial.answers import Measured
from acquire.trial.drafting import (
    MOST_CODES,
    Drafted,
    Entropy,
    Wish,
    drafted,
    new_seed,
    stages_of,
)

if TYPE_CHECKING:
    from acquire.model import Bench
    from acquire.model.sled import SledSpec

TITLE, CONTROL, PANEL = "A comparison of products", "Untreated", "Panel 1"
STAGES = "bare applied"
SCALES = "water application removal look"


class Home(NamedTuple):
    """The bench that a trial is planned for, None where there is none, and the trials it has."""

    bench: Bench | None
    taken: frozenset[str]


def planned(asking: Asking, given: Mapping[str, Any], home: Home, entropy: Entropy) -> Drafted:
    """The plan that is wanted. Raises `SettingsError` with every fault of the options."""
    return _Planning(asking, given, home, entropy).drafted()


_BENCH_FILE = """a bench file, in whose store the key is sealed: --bench FILE. For that a copy of \
{example} will do, or a simulated bench (coatbench simulate boatyard --bench try/bench.toml)"""


NOT_BLIND = """products are named, not hidden behind codes: that needs a bench file, in whose \
store the key is sealed (coatbench trial new --blind says which will do)"""


class _Planning:
    """One trial being planned."""

    def __init__(
        self, asking: Asking, given: Mapping[str, Any], home: Home, entropy: Entropy
    ) -> None:
        self._asking = asking
        self._given = given
        self._home = home
        self._entropy = entropy

    def drafted(self) -> Drafted:
        one, given = self._asking.one, self._given
        sizing = Sizing(self._asking, given, self._home.bench)
        if given["blind"] and self._home.bench is None and self._asking.is_asked:
            self._is_blind(0)
            self._asking.settle()  # before the first question: no answer is lost
        title = one("--title", given["title"], "What is compared, in a line", TITLE, name) or TITLE
        own_id = one("--id", given["trial_id"], "Its id, for commands and files",
                     self._free_id(title), self._id) or "trial"  # fmt: skip
        products = self._asking.several(
            "--product", given["products"], "A product", (), each_once("product")
        )
        control = one("--control", given["control"], "The untreated control", CONTROL, name)
        if control in products:
            self._asking.fault("--control", f'"{control}"', "another name than a product has")
        panels = self._panels()
        measures = self._measures()
        sled = self._sled(measures)
        named, counts = self._stages()
        recipe = self._recipe(counts)
        cure = self._cure(named)
        lost = self._lost(counts)
        wanted = self._wanted(measures, sled)
        stages = stages_of(named, counts)
        scales = self._scales(stages, is_washed=bool(counts))
        is_blind = self._is_blind(len(products))
        sizing.look_at_numbers()
        self._asking.settle()
        grid, found = sizing.grid(len(products), panels, measures, sled, wanted)
        replicates = sizing.replicates(measures, found)
        seed = self._seed()
        self._asking.settle()
        wish = Wish(
            id=own_id,
            title=title,
            products=tuple(products),
            control=control or CONTROL,
            panels=panels,
            rows=grid.rows,
            columns=grid.columns,
            stages=stages,
            measures=tuple(measures),
            seed=seed,
            replicates=replicates,
            wanted=wanted,
            recipe=recipe,
            washes=tuple((f"wash-{n}", n) for n in counts),
            cure_hours=((named[1], cure),) if cure is not None else (),
            sled=sled,
            gone_when_lost=lost,
            scales=scales,
            design=Design(given["design"]) if given["design"] else None,
            is_blind=is_blind,
            unchecked=given["unchecked"],
        )
        try:
            return drafted(wish, self._entropy)
        except ValueError as wrong:
            self._asking.fault("--design", given["design"] or f"{grid.rows}x{grid.columns}",
                               str(wrong))  # fmt: skip
            self._asking.settle()
            raise

    def _free_id(self, title: str) -> str:
        wanted = answers.slug(title, "trial")
        own, k = wanted, 2
        while own in self._home.taken:
            own, k = f"{wanted}-{k}", k + 1
        return own

    def _id(self, text: str) -> str:
        text = text.strip()
        if wanted := unlike_id(text):
            raise ValueError(wanted)
        if text in self._home.taken:
            raise ValueError("an id that no trial of this bench has yet (coatbench trial show)")
        return text

    def _panels(self) -> tuple[Panel, ...]:
        names = self._asking.several(
            "--panel", self._given["panels"], "A panel", (PANEL,), each_once("panel")
        )
        material = self._asking.one(
            "--material", self._given["material"], "What panels are of (Enter: not said)", "",
            name_or_none,
        )  # fmt: skip
        single = len(names) == 1
        return tuple(
            Panel("" if single else f"P{k}", name, material or "")
            for k, name in enumerate(names, 1)
        )

    def _measures(self) -> list[Measured]:
        once = each_once("measure", lambda text: answers.measured(text).id)

        def several(text: str) -> list[Measured]:
            found = [answers.measured(word) for word in answers.words(text)]
            if not found or len({m.id for m in found}) < len(found):
                raise ValueError(f"one or more of {answers.MEASURES}, each once")
            return found

        if self._given["measures"]:
            names = self._asking.several("--measure", self._given["measures"], "", (), once)
            return [answers.measured(name) for name in names]
        question = f"What is measured, with spaces between: {answers.MEASURES}"
        return (
            self._asking.one("--measure", None, question, usual_measures(self._home.bench), several)
            or []
        )

    def _sled(self, measures: list[Measured]) -> SledSpec | None:
        from acquire.schema import read  # noqa: PLC0415 - slow
        from acquire.settings.sled import SledTable  # noqa: PLC0415

        one, given = self._asking.one, self._given
        if not any(m.id == answers.SLICKNESS for m in measures):
            if given["sled"]:
                self._asking.fault("--sled", "no measure slickness", "--measure slickness with it")
            return None
        mass = one("--sled", given["sled"], 'The sled as weighed, such as "203.0 g" (Enter: none, '
                   "results are then in newtons)", "", sled_or_none)  # fmt: skip
        if not mass:
            return None
        default = "0.1 g" if self._asking.is_asked else None
        u = one("--sled-uncertainty", given["sled_uncertainty"],
                "The standard uncertainty of that, by the balance's data", default,
                answers.mass)  # fmt: skip
        if not u:
            return None
        try:
            table = {"mass": mass, "standard_uncertainty": u}
            return read(SledTable, table, "the sled").spec()
        except SettingsError as error:
            for fault in error.faults:
                self._asking.fault(f"--sled ({fault.path})", fault.got, fault.wanted)
            return None

    def _stages(self) -> tuple[tuple[str, ...], tuple[int, ...]]:
        one, given = self._asking.one, self._given
        text = " ".join(given["stages"]) or None
        named = one("--stage", text, "Stages before all washing, the bare one first", STAGES,
                    stage_names) or ("bare", "applied")  # fmt: skip
        counts = one("--washes", given["washes"], "Washes after which it is measured again, such "
                     "as 5,10,20 (Enter: none)", "", answers.counts)  # fmt: skip
        return named, counts or ()

    def _recipe(self, counts: tuple[int, ...]) -> tuple[tuple[str, str], ...]:
        if not counts:
            return ()
        # Nobody is put words about their wash into the mouth: without a person none are written.
        usual = "; ".join(answers.RECIPE.values()) if self._asking.is_asked else NONE
        return self._asking.one(
            "--recipe", self._given["recipe"],
            f"How one wash is done, with ; between: {'; '.join(answers.RECIPE)} (- for what is not "
            f"said, or {NONE})",
            usual, or_none(answers.recipe),
        ) or ()  # fmt: skip

    def _cure(self, named: tuple[str, ...]) -> Decimal | None:
        if len(named) < 2:
            return None
        question = f"Hours from application to stage {named[1]} (Enter: none)"
        return self._asking.one(
            "--cure-hours", self._given["cure_hours"], question, "", or_none(answers.hours)
        )

    def _lost(self, counts: tuple[int, ...]) -> Decimal | None:
        if not counts:
            return None
        question = "A product is gone when this share of its gain is lost, or none"
        return self._asking.one(
            "--gone-when-lost", self._given["gone_when_lost"], question, "0.5", share_or_none
        )

    def _wanted(self, measures: list[Measured], sled: SledSpec | None) -> dict[str, Decimal]:
        known = paired(self._asking, "--want", self._given["wanted"], measures, "0.5")
        found: dict[str, Decimal] = {}
        for measure in measures:
            unit = scale_of(measure, sled)
            value = self._asking.one(
                "--want", known.get(measure.id),
                f"Smallest difference of {measure.id} that matters, {unit} "
                "(nearer counts as equal; Enter: not said)",
                "", or_none(answers.number),
            )  # fmt: skip
            if value is not None:
                found[measure.id] = value
        return found

    def _is_blind(self, products: int) -> bool:
        answer = self._given["blind"]
        if answer is None and self._home.bench is None and self._asking.is_asked:
            self._asking.tell([NOT_BLIND])
        if answer is None:
            answer = self._home.bench is not None and self._asking.one(
                "--blind", None, "Hide the products behind codes, y or n", "n", is_yes
            )
        if answer and self._home.bench is None:
            from acquire.settings.shipped import config_dir  # noqa: PLC0415 - slow

            self._asking.fault(
                "--blind",
                "no bench file here",
                _BENCH_FILE.format(example=config_dir() / "boatyard" / "bench.toml"),
            )
        if answer and products > MOST_CODES:
            self._asking.fault("--blind", f"{products} products", f"at most {MOST_CODES}")
        return bool(answer)

    def _scales(self, stages: tuple[str, ...], *, is_washed: bool) -> tuple[Scale, ...]:
        given = self._given["scales"]
        question = (
            "Written scales, with spaces between: application, dust, look, removal, smell, water; "
            "or none"
        )
        # A path may have spaces in it, and is one name.
        said = ", ".join(given)
        return self._asking.one(
            "--scale", said or None, question, SCALES,
            lambda text: scales_named(
                given if text == said else answers.words(text) or [NONE], stages, is_washed
            ),
        ) or ()  # fmt: skip

    def _seed(self) -> int:
        if self._given["seed"] is None:
            return new_seed(self._entropy)
        return self._asking.one("--seed", self._given["seed"], "The seed", None, a_seed) or 0
