"""`coatbench trial new` where it was broken off, and what it says to do first."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.trial.asking import Asking
from acquire.cli.trial.new import new
from acquire.cli.trial.parsing import scales_named
from acquire.cli.trial.planning import planned
from acquire.cli.trial.recalled import recalled
from acquire.settings import config_dir
from acquire.trial.answers import slug
from tests.unit.cli.test_trial_new import GIVEN, NOWHERE, Told, entropy


class Leaving(Told):
    """A person who presses Ctrl-C when the answers are used up."""

    def ask(self, question: str, default: str) -> str:
        if not self._answers:
            raise KeyboardInterrupt
        return super().ask(question, default)


def test_what_was_typed_before_ctrl_c_stands_in_the_command_that_takes_it_up_again() -> None:
    """An Enter too many is asked again; and the command is read back as it was meant."""
    person = Leaving(
        "The \"old\" dinghy", "", "Heron's <b>", "Gull oil", "", "Lid", "", "",
        "gloss-60 slickness", "", "bare cured", "5, 10",
    )  # fmt: skip
    asking = Asking(person)
    with pytest.raises(KeyboardInterrupt):
        planned(asking, GIVEN | {"control": 'No "wax"'}, NOWHERE, entropy())
    with new.make_context("coatbench trial new", ["--control", 'No "wax"', "--open"]) as context:
        said, command = recalled(context, asking.typed)
        assert recalled(context, []) == ("", "")
    assert said.startswith("nothing is written")
    words = shlex.split(command)
    assert words[:3] == ["coatbench", "trial", "new"]
    with new.make_context("new", words[3:]) as context:
        again = context.params
    assert (again["title"], again["control"]) == ('The "old" dinghy', 'No "wax"')
    assert (again["products"], again["panels"]) == (("Heron's <b>", "Gull oil"), ("Lid",))
    assert (again["measures"], again["stages"]) == (("gloss-60", "slickness"), ("bare", "cured"))
    assert (again["washes"], again["blind"]) == ("5, 10", False)
    # The sled was passed by with Enter, and the id taken: both are asked again.
    assert (again["sled"], again["trial_id"]) == (None, None)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(config_dir() / "boatyard" / "bench.toml", tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_meter_to_begin_with_is_one_that_measures_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of two gloss meters the one whose check covers the angle; of none it is said."""
    options = ["trial", "new", "--yes", "--product", "Heron", "--washes", "5", "--out"]
    assert run([*options, "a.toml", "--id", "a", "--measure", "gloss-60"]) == 0
    said = capsys.readouterr().out
    assert "next: coatbench check deck, then coatbench run a bare" in said
    assert "--with deck" in said
    assert "recipe  not written down yet" in said
    assert run([*options, "b.toml", "--id", "b", "--measure", "transmission-315-400"]) == 0
    said = capsys.readouterr().out
    assert "next: add what measures transmission-315-400 to the bench file" in said
    assert (
        "slides  transmission-315-400: read through slides, so each zone is one; at bare and"
        in (said)
    )
    assert "--with INSTRUMENT" in said


def test_a_plan_with_one_zone_a_product_says_that_it_tells_of_that_zone_alone(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ["trial", "new", "--yes", "--product", "Heron", "--measure", "gloss-60", "--id"]
    alone = "of those zones alone, not of the products elsewhere"
    assert run([*options, "one", "--grid", "1x2"]) == 0
    assert alone in capsys.readouterr().out
    assert run([*options, "two", "--grid", "2x2"]) == 0
    assert alone not in capsys.readouterr().out


def test_every_fault_of_every_scale_file_is_told_by_file_and_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "mine.toml").write_text('id = "a b"\nrated = "panel"\nsteps = ["x", 3]\n', "utf-8")
    (folder / "headed.toml").write_text('[scale]\nid = "haze"\n', "utf-8")
    options = ["trial", "new", "--yes", "--product", "Heron", "--measure", "gloss-60"]
    scales = ["mine.toml", "headed.toml", "nosuch"]
    assert run([*options, *(word for name in scales for word in ("--scale", name))]) == 1
    told = capsys.readouterr().err.splitlines()
    paths = [line.strip() for line in told if line.startswith("  --scale")]
    assert paths == [
        "--scale mine.toml: id",
        "--scale mine.toml: rated",
        "--scale mine.toml: steps[1]",
        "--scale mine.toml: name",
        "--scale headed.toml: scale",
        "--scale nosuch",
    ]
    assert any("the entries of one scale without a heading" in line for line in told)
    # A person hears the same and is asked again.
    person = Told("mine.toml", "none")
    answer = Asking(person).one("--scale", None, "Scales", "", lambda text: scales_named(
        text.split(), ("bare", "applied"), is_washed=False
    ))  # fmt: skip
    assert answer == ()
    assert "mine.toml: rated: got 'panel', wanted 'zone' or 'treatment'" in person.heard


def test_an_id_made_of_a_title_ends_with_a_whole_word() -> None:
    assert slug("Sealers on the old dinghy: gelcoat, chalked", "trial") == (
        "sealers-on-the-old-dinghy-gelcoat"
    )
    assert slug("x" * 50, "trial") == "x" * 40
    assert slug("Twenty letters and twenty more of themm x", "trial").endswith("-themm")
