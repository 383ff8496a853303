"""Names with quotes, slashes, emoji and HTML through everything that reads a trial."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.errors import SettingsError
from acquire.settings import parse_plan
from acquire.visible import visible
from tests.unit.worked_yard import PLAN, WorkedYard

NAME = "Q\"' /../ <script>x</script> & | `c` **b** {{ y }} 🚤 ${HOME} %s \\ "
NAMES = ("Tern wax", "Untreated", "Two protectants", "Panel 7", "How water behaves", "flat drops")
LONGEST_LINE = 500
READ_BY = (
    ("next",),
    ("trial", "show"),
    ("trial", "show", "quay-1"),
    ("results", "quay-1"),
    ("results", "quay-1", "--short"),
    ("report", "quay-1", "--out", "page.html"),
    ("report", "quay-1", "--out", "page.md"),
    ("figures", "quay-1", "--format", "svg", "--out", "figures"),
    ("captions", "quay-1", "--film-starts", "2026-05-04T08:00:00+00:00", "--out", "film.vtt",
     "--chapters", "film.txt"),
    ("export", "quay-1", "--out", "readings.csv"),
    ("package", "quay-1", "--out", "whole.zip"),
    ("recompute", "whole.zip"),
    ("readings",),
    ("alltime",),
    ("trial", "check", "trial.toml"),
)  # fmt: skip


def plan_of(most: int) -> str:
    """The plan of a worked yard with such names, of so many characters, each another one."""
    text = PLAN
    for number, name in enumerate(NAMES):
        hostile = f"{number} {NAME * (most // len(NAME))}".strip()
        text = text.replace(f'"{name}"', json.dumps(hostile, ensure_ascii=False))
    return text


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a bench file and the trial, read bare and applied, washed, rated, one void."""
    folder = tmp_path_factory.mktemp("hostile")
    text = plan_of(190)
    (folder / "trial.toml").write_text(text, encoding="utf-8")
    yard = WorkedYard(folder, text)
    yard.plug("shore")
    yard.check("shore")
    for stage in ("bare", "applied"):
        if stage == "applied":
            yard.call("apply", trial="quay-1", zones=["A1", "A3"], amount=NAME)
            yard.clock.advance(13 * 3600)
            yard.check("shore")
        yard.begin(stage, text=text)
        for press in range(6):
            yard.press("shore", f"{80 + press % 2 / 10 + 2 * (stage != 'bare')}")
        yard.call("finish_run", why="")
    for zone in ("A1", "A2", "A3"):
        yard.call("rate", trial="quay-1", scale="water", stage="applied", zone=zone, treatment="",
                  rater=NAME, step=2, reason="")  # fmt: skip
    yard.check("shore")
    first = yard.readings("role = 'run'")[0]["reading_id"]
    yard.act(lambda at: yard.acts.readings.void(first, NAME, at))
    yard.act(lambda at: yard.acts.note(NAME, "quay-1", "bare", at))
    yard.close()
    name = yard.bench.store.name
    (folder / "bench.toml").write_text(f'[bench]\nstore = "{name}"\n', encoding="utf-8")
    return folder


def test_every_command_that_reads_a_trial_reads_it_whatever_its_names_are(
    trial: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(trial)
    for words in READ_BY:
        assert run(["--bench", "bench.toml", *words]) == 0, words
        out, err = capsys.readouterr()
        assert err == "", words
        assert visible(out, "\n\t") == out, words
        assert max(map(len, out.splitlines())) <= LONGEST_LINE, words
    # The names were no path: nothing was written beside what was asked for.
    assert not (trial.parent / "x").exists()
    page = (trial / "page.html").read_text("utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;x" in page
    for drawn in (trial / "figures").glob("*.svg"):
        assert "<script" not in drawn.read_text("utf-8")
    # A caption is marked up by what stands in angle brackets (WebVTT, 4.2.2).
    film = (trial / "film.vtt").read_text("utf-8")
    assert "&lt;script&gt;x" in film
    assert not re.search(r"<(?!\d)", film)


def test_names_of_ten_thousand_characters_are_refused_all_at_once_and_shown_short() -> None:
    with pytest.raises(SettingsError) as refused:
        parse_plan(plan_of(10_000), "trial.toml")
    faults = refused.value.faults
    assert [fault.path for fault in faults] == [
        "trial.title", "panel.name", "treatment[0].name", "treatment[1].name", "scale[0].name",
        "scale[0].steps[1]",
    ]  # fmt: skip
    assert {fault.wanted for fault in faults} == {"at most 200 characters"}
    assert len(str(refused.value)) < 1500
