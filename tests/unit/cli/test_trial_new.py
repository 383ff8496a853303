"""`coatbench trial new`: by options alone, or by a person who answers."""

from __future__ import annotations

import itertools
import os
import re
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from acquire.cli.entry import run
from acquire.cli.planning import planning_lines
from acquire.cli.trial.asking import Asking
from acquire.cli.trial.planning import Home, planned
from acquire.errors import SettingsError
from acquire.model import Design
from acquire.settings import config_dir, load_bench, load_plan
from acquire.store import StoreReader
from acquire.store.worked import Worked
from acquire.trial.answers import RECIPE
from acquire.trial.key import products_of, unpacked
from acquire.trial.redrawn import is_as_drawn

GIVEN: dict[str, Any] = {
    "title": None, "trial_id": None, "products": (), "control": None, "panels": (),
    "material": None, "grid": None, "zones": None, "measures": (), "sled": None,
    "sled_uncertainty": None, "stages": (), "washes": None, "gone_when_lost": None,
    "cure_hours": None, "wanted": (), "replicates": (), "scales": (), "design": None, "seed": None,
    "blind": None, "unchecked": False, "recipe": None,
}  # fmt: skip
NOWHERE = Home(None, frozenset({"a-comparison-of-products"}))
NAMES = ('a "quoted" <b>wax</b> \\', "oil \N{LOBSTER}", "x" * 200)


def entropy() -> Any:
    """The same bytes in every test."""
    counter = itertools.count()
    return lambda size: bytes((next(counter) * 37 + k * 11) % 256 for k in range(size))


class Told:
    """A person with answers ready; an empty one takes what is proposed."""

    def __init__(self, *answers: str) -> None:
        self._answers = list(answers)
        self.asked: list[tuple[str, str]] = []
        self.heard: list[str] = []

    def ask(self, question: str, default: str) -> str:
        self.asked.append((question, default))
        return (self._answers.pop(0) if self._answers else "") or default

    def tell(self, lines: Iterable[str]) -> None:
        self.heard += lines


def test_the_plan_is_what_was_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    given = GIVEN | {
        "products": NAMES, "control": "nothing on it", "panels": ("Door", "Lid"),
        "material": "gelcoat", "grid": "4x4", "measures": ("gloss-20-60", "slickness"),
        "sled": "203.0 g", "sled_uncertainty": "0.1 g", "stages": ("bare", "on"),
        "washes": "5,10", "cure_hours": "12", "wanted": ("slickness=0.05",),
        "replicates": ("gloss-20-60=4",), "scales": ("water", "smell"), "seed": "7",
        "gone_when_lost": "0.25",
    }  # fmt: skip
    plan, key = planned(Asking(None), given, NOWHERE, entropy())
    assert key == ""
    assert plan.id == "a-comparison-of-products-2"  # the first one is taken
    assert [t.name for t in plan.treatments] == ["nothing on it", *NAMES]
    assert [str(p) for p in plan.panels] == ["Door, gelcoat", "Lid, gelcoat"]
    assert plan.layout is not None
    assert (plan.layout.design, plan.layout.seed) == (Design.LATIN_SQUARE, 7)
    assert is_as_drawn(plan)
    assert len(plan.zones) == 32
    gloss, slip = plan.measures
    assert (gloss.channels, gloss.replicates, gloss.margin) == (("20", "60"), 4, None)
    assert slip.sled is not None
    assert (slip.sled.as_weighed, str(slip.margin)) == ("203.0 g", "0.05")
    assert slip.end_of_life is not None
    assert str(slip.end_of_life.lost) == "0.25"
    assert plan.stages == ("bare", "on", "wash-5", "wash-10")
    assert (plan.washes, plan.cure_hours[0][0]) == ((("wash-5", 5), ("wash-10", 10)), "on")
    assert [s.id for s in plan.scales] == ["water", "smell"]
    again = planned(Asking(None), given, NOWHERE, entropy()).plan
    assert again.zones == plan.zones
    assert "no bench file is at hand" in capsys.readouterr().out


def test_all_faults_of_the_options_are_told_at_once() -> None:
    given = GIVEN | {
        "trial_id": "no id!", "measures": ("gloss-45",), "washes": "10,5", "wanted": ("x=1",),
        "blind": True, "grid": "0x3", "cure_hours": "0", "seed": "x", "scales": ("nope",),
    }  # fmt: skip
    with pytest.raises(SettingsError) as caught:
        planned(Asking(None), given, NOWHERE, entropy())
    faults = {f.path: f.wanted for f in caught.value.faults}
    assert list(faults) == [
        "--id", "--product", "--measure", "--washes", "--cure-hours", "--want", "--scale nope",
        "--blind", "--grid", "--seed",
    ]  # fmt: skip
    assert faults["--cure-hours"].endswith(", or none")
    assert "transmission-380-780" in faults["--measure"]


def test_a_sled_that_no_hand_pulls_is_a_slip_in_its_unit_and_a_share_is_no_word() -> None:
    given = GIVEN | {
        "products": ("Grebe",), "measures": ("slickness",), "sled": "203 lb", "washes": "5",
        "gone_when_lost": "half", "sled_uncertainty": "0.1 g",
    }  # fmt: skip
    with pytest.raises(SettingsError) as caught:
        planned(Asking(None), given, NOWHERE, entropy())
    faults = {f.path: f.wanted for f in caught.value.faults}
    assert faults["--sled"] == "a mass from 5 g to 5 kg, or none; this is 92.1 kg"
    assert faults["--gone-when-lost"] == "a share between 0 and 1, such as 0.5, or none"


@pytest.mark.parametrize(
    ("option", "value", "wanted"),
    [
        ("grid", "1x2", "4 to 500 zones"),
        ("design", "latin-square", "as many rows and columns"),
        ("zones", "0", "a whole number"),
        ("seed", "-1", "a whole number"),
        ("scales", ("sharpness",), "one of application"),
        ("control", "Grebe", "another name"),
        ("sled", "203 g", "--measure slickness"),
        ("wanted", ("gloss=q",), "gloss-20=VALUE, VALUE a number such as 0.5"),
    ],
)
def test_an_option_that_does_not_fit_is_told_with_what_is_wanted(
    option: str, value: object, wanted: str, capsys: pytest.CaptureFixture[str]
) -> None:
    given = GIVEN | {"products": ("Grebe", "Gull", "Tern"), option: value}
    with pytest.raises(SettingsError) as caught:
        planned(Asking(None), given, NOWHERE, entropy())
    (fault,) = caught.value.faults
    assert wanted in fault.wanted


def test_a_person_is_asked_and_may_err() -> None:
    person = Told(
        "Waxes", "", "Grebe", "Grebe", "Gull", "", "", "Door", "", "steel", "gloss-20 gloss-7",
        "gloss-20", "", "5, 10", "soap", "soap; 1 : 100; -; sponge; -", "a day", "24", "0.5", "1",
        "", "2x3",
    )  # fmt: skip
    plan, _ = planned(Asking(person), GIVEN, NOWHERE, entropy())
    assert (plan.id, plan.title, plan.panel) == ("waxes", "Waxes", "Door, steel")
    assert [t.name for t in plan.treatments] == ["Untreated", "Grebe", "Gull"]
    assert len(plan.zones) == 6
    assert (str(plan.cure_hours[0][1]), str(plan.measures[0].margin)) == ("24", "1")
    assert dict(plan.recipe) == {"shampoo": "soap", "dilution": "1 : 100", "mitt": "sponge"}
    heard = "\n".join(person.heard)
    assert 'got "soap", wanted shampoo; dilution; pressure; mitt; order: 5 parts' in heard
    assert 'got "Grebe", wanted each product once' in heard
    assert 'got "a day", wanted hours' in heard
    # Without a bench no key could be sealed, so nobody is asked about it, but it is said.
    assert not any("codes" in question for question, _ in person.asked)
    assert "products are named, not hidden behind codes: that needs a bench file" in heard


def test_the_smallest_difference_is_asked_for_in_the_terms_of_the_results() -> None:
    asked: dict[str, str] = {}
    for sled in ("203.0 g", None):
        given = GIVEN | {"products": ("Grebe",), "measures": ("gloss-20", "slickness"),
                         "sled": sled}  # fmt: skip
        person = Told()
        planned(Asking(person), given, NOWHERE, entropy())
        asked |= {
            f"{question.split()[3]} {sled}": question.partition("that matters, ")[2]
            for question, _ in person.asked
            if question.startswith("Smallest difference")
        }
    terms = {what: said.partition(" (")[0] for what, said in asked.items()}
    assert terms == {
        "gloss-20 203.0 g": "in GU", "slickness 203.0 g": "as a coefficient of friction",
        "gloss-20 None": "in GU", "slickness None": "in N",
    }  # fmt: skip


def test_a_list_of_products_in_one_answer_is_asked_about(
    capsys: pytest.CaptureFixture[str],
) -> None:
    person = Told("Waxes", "", "Grebe, Gull", "", "Wax, blue", "n", "")
    plan, _ = planned(Asking(person), GIVEN | {"measures": ("gloss-20",)}, NOWHERE, entropy())
    assert [t.name for t in plan.treatments[1:]] == ["Grebe", "Gull", "Wax, blue"]
    assert ('A product: is that 2 ("Grebe", "Gull"), y, or one name with commas, n', "y") in (
        person.asked
    )


def test_the_usual_recipe_is_proposed_to_a_person_and_written_for_nobody_else(
    capsys: pytest.CaptureFixture[str],
) -> None:
    given = GIVEN | {"products": ("Grebe",), "measures": ("gloss-20",), "washes": "5"}
    plan, _ = planned(Asking(None), given, NOWHERE, entropy())
    assert plan.recipe == ()
    person = Told()
    plan, _ = planned(Asking(person), given, NOWHERE, entropy())
    assert plan.recipe == tuple(RECIPE.items())
    assert "; ".join(RECIPE.values()) in [default for _, default in person.asked]
    own = "soap; -; -; -; across"
    plan, _ = planned(Asking(None), given | {"recipe": own}, NOWHERE, entropy())
    assert plan.recipe == (("shampoo", "soap"), ("order", "across"))


def test_new_and_check_say_the_same_of_one_plan(capsys: pytest.CaptureFixture[str]) -> None:
    home = Home(load_bench(config_dir() / "boatyard" / "bench.toml"), frozenset())
    assert home.bench is not None
    given = GIVEN | {
        "products": ("Grebe", "Gull"), "measures": ("gloss-20",), "wanted": ("gloss-20=1",),
    }  # fmt: skip
    plan, _ = planned(Asking(None), given, home, entropy())
    new = capsys.readouterr().out
    check = "\n".join(planning_lines(plan, home.bench))
    (seen,) = re.findall(r"proposed: (.*)", new)
    assert seen in check
    # What is not to be had is not had by either.
    assert "by the default no sensible plan shows 1 GU: make a study first" in new
    assert "as the margin of 1 GU: by the default no sensible plan shows 1 GU" in check


def test_why_a_square_shows_something_else_than_the_blocks_that_were_proposed_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    home = Home(load_bench(config_dir() / "boatyard" / "bench.toml"), frozenset())
    reason = "4x4 zones for 4 treatments make a Latin square, so that differences are not taken"
    for products, is_square in ((NAMES, True), (NAMES[:2], False)):
        given = GIVEN | {
            "products": products, "measures": ("gloss-20",), "wanted": ("gloss-20=1",),
        }  # fmt: skip
        planned(Asking(None), given, home, entropy())
        said = capsys.readouterr().out
        within = said.index("differences are taken within blocks")
        assert within < said.index("proposed: ")
        assert (reason in said) is is_square
        assert said.count("proposed: ") == (2 if is_square else 1)


def test_other_readings_than_proposed_are_foretold_anew(
    capsys: pytest.CaptureFixture[str],
) -> None:
    home = Home(load_bench(config_dir() / "boatyard" / "bench.toml"), frozenset())
    assert home.bench is not None
    given = GIVEN | {
        "products": ("Grebe", "Gull"), "measures": ("gloss-20",), "wanted": ("gloss-20=3",),
        "replicates": ("gloss-20=2",), "grid": "3x3",
    }  # fmt: skip
    plan, _ = planned(Asking(None), given, home, entropy())
    said = capsys.readouterr().out
    (proposed,) = re.findall(r"proposed: (.*)", said)
    (instead,) = re.findall(r"gloss-20: instead: (.*)", said)
    assert instead.startswith("2 readings of each of 3 zones a product show a net change of ")
    seen = [float(re.findall(r"change of ([0-9.]+) GU", one)[0]) for one in (proposed, instead)]
    assert seen[1] > seen[0]
    # The same as is said of the finished plan, and whether it is what was wanted.
    assert instead.removesuffix("; wanted was 3 GU") in "\n".join(planning_lines(plan, home.bench))
    assert instead.endswith("; wanted was 3 GU") is (seen[1] > 3)
    # A person who types them hears it, too, and one who takes what is proposed hears nothing more.
    for typed, told in (("2", 1), ("", 0)):
        person = Told(*[""] * 20)
        asked = given | {"replicates": ()}
        planned(Asking(person), asked, home, entropy())
        at = [question for question, _ in person.asked].index(
            "Readings of each zone at each stage, gloss-20"
        )
        person = Told(*[""] * at, typed)
        planned(Asking(person), asked, home, entropy())
        assert sum("instead: " in line for line in person.heard) == told


def test_a_person_hears_that_nothing_can_be_sealed_here_before_the_first_question() -> None:
    person = Told("Waxes", "", "Grebe", "")
    with pytest.raises(SettingsError) as caught:
        planned(Asking(person), GIVEN | {"blind": True}, NOWHERE, entropy())
    (fault,) = caught.value.faults
    assert person.asked == []
    assert fault.path == "--blind"
    assert f"a copy of {config_dir() / 'boatyard' / 'bench.toml'}" in fault.wanted
    assert "coatbench simulate boatyard" in fault.wanted


def test_codes_tell_nothing_of_the_order_in_which_products_were_named() -> None:
    home = Home(load_bench(config_dir() / "boatyard" / "bench.toml"), frozenset())
    given = GIVEN | {"products": NAMES, "blind": True, "measures": ("slickness",)}
    drafted = planned(Asking(None), given, home, entropy())
    trial, products = products_of(drafted.key)
    codes = [t.id for t in drafted.plan.treatments[1:]]
    assert trial == drafted.plan.id
    assert codes == sorted(codes)
    assert {products[code] for code in codes} == set(NAMES)
    assert not any(name in drafted.plan.text for name in NAMES)
    assert [t.name for t in drafted.plan.treatments[1:]] == [f"Code {code}" for code in codes]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(config_dir() / "boatyard" / "bench.toml", tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


WAXES = (
    "trial",
    "new",
    "--yes",
    "--product",
    "Grebe wax",
    "--product",
    "Gull oil",
    "--grid",
    "2x3",
)


def test_a_blind_trial_goes_from_its_plan_to_its_unsealing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole way over a real store, without a daemon; nothing names a product before."""
    assert run([*WAXES, "--id", "waxes", "--blind", "--washes", "5"]) == 0
    assert run(["trial", "show", "waxes"]) == 0
    assert run(["trial", "show"]) == 0
    assert run(["trial", "check", "waxes.toml"]) == 0
    said = capsys.readouterr()
    plan = load_plan(folder / "waxes.toml")
    for text in (said.out, said.err, plan.text):
        assert "Grebe" not in text
        assert "Gull" not in text
    assert "BLIND   treatments are codes; the key is sealed" in said.out
    assert "the zones are those of this draw" in said.out
    assert "planned, blind" in said.out
    with StoreReader(folder / "boatyard.sqlite") as store:
        key = Worked(store.rows).key(plan.key_digest)
        assert key is not None
        _, products = products_of(unpacked(key.sealed, plan.key_digest))
    assert set(products.values()) == {"Grebe wax", "Gull oil"}

    assert run(["trial", "key", "waxes", "--to", "Jonas", "--out", "sheet.txt"]) == 0
    assert "Grebe" not in capsys.readouterr().out
    sheet = (folder / "sheet.txt").read_text("utf-8")
    if os.name == "posix":
        assert (folder / "sheet.txt").stat().st_mode & 0o077 == 0
    for code, name in products.items():
        zones = " ".join(z.id for z in plan.zones if z.treatment == code)
        assert re.search(rf"^{code} +{name} +{zones}$", sheet, re.MULTILINE)
    # Nobody is there to be asked, and it is not said beforehand.
    assert run(["trial", "unseal", "waxes", "--by", "Ines"]) == 1
    assert run(["trial", "unseal", "waxes", "--by", "Ines", "--why", "done", "--yes"]) == 0
    assert run(["trial", "show", "waxes"]) == 0
    said = capsys.readouterr()
    assert "OPEN    unsealed by Ines" in said.out
    assert "the key was shown to Jonas" in said.out
    assert f"Grebe wax ({next(c for c, n in products.items() if n == 'Grebe wax')})" in said.out

    assert run(["trial", "close", "waxes", "--why", "worn off"]) == 0
    assert run(["trial", "show", "waxes"]) == 0
    assert "CLOSED  worn off" in capsys.readouterr().out
    assert run(["trial", "reopen", "waxes"]) == 0


def test_nothing_is_written_over_and_no_id_is_taken_twice(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = folder / "waxes.toml"
    mine.write_text("my own notes", encoding="utf-8")
    assert run([*WAXES, "--id", "waxes"]) == 1
    assert "is not written over" in capsys.readouterr().err
    assert mine.read_text(encoding="utf-8") == "my own notes"
    assert not (folder / "boatyard.sqlite").exists()
    assert run([*WAXES, "--id", "waxes", "--out", "other.toml"]) == 0
    assert run([*WAXES, "--id", "waxes", "--out", "third.toml"]) == 1
    assert "an id that no trial of this bench has yet" in capsys.readouterr().err
    assert not (folder / "third.toml").exists()


def test_a_plan_that_no_store_takes_leaves_no_file(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "boatyard.sqlite").write_text("no store at all", encoding="utf-8")
    assert run([*WAXES, "--id", "waxes"]) == 3
    assert capsys.readouterr().err
    assert not (folder / "waxes.toml").exists()


def test_the_help_tells_the_way_of_a_trial() -> None:
    from acquire.cli.trial import trial

    said = CliRunner().invoke(trial, ["--help"]).output
    for word in ("new", "show", "key", "unseal", "close", "reopen", "check"):
        assert word in said
