"""The commands of a trial's work beside its readings, as they are typed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.moments import moment_ns
from acquire.cli.reach import acting, store_of
from acquire.errors import Misuse
from acquire.report.record.loading import load_trial
from acquire.report.sections.work import work_part
from acquire.settings import config_dir
from acquire.store import StoreReader
from acquire.store.worked import Worked
from tests.attack.commands import typed
from tests.unit.worked_yard import PLAN

NOW = 1_700_000_000_000_000_000


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A bench with a daemon over it, and one trial kept."""
    folder = tmp_path_factory.mktemp("bench")
    file = Path(shutil.copy(config_dir() / "boatyard" / "bench.toml", folder))
    with acting(file) as client:
        for name in ("quay-1", "quay-2", "quay-3", "quay-4"):
            text = PLAN.replace('"quay-1"', f'"{name}"')
            client.call("keep_trial", text=text, source="trial.toml")
        yield file


def said(bench: Path, *line: str, code: int = 0) -> str:
    found, text = typed(bench, line)
    assert found == code, text
    return text


def test_washes_are_counted_and_put_right_on_the_command_line(bench: Path) -> None:
    # Nothing is on, and nobody has looked at what is there before a wash.
    asked = said(bench, "wash", "quay-1", "--count", "5", code=1)
    assert "nothing is recorded to be on A1, A3" in asked
    assert "bare of A1, A2, A3 was not looked at in full: 6 readings of gloss20" in asked
    assert "--yes" in asked
    assert said(bench, "wash", "quay-1", "--show").strip() == "washes: A1, A2, A3 0 washes"
    first = said(bench, "wash", "quay-1", "--count", "5", "--yes")
    assert "Wash place" in first
    assert "CHECKPOINT wash-5 reached by A1, A2, A3" in first
    asked = said(bench, "wash", "quay-1", "--zones", "A1,A3", "--count", "1", code=1)
    assert "NOTE: wash-5 of A1, A3 was not looked at in full" in asked
    assert asked.count("NOTE") == 1
    more = said(bench, "wash", "quay-1", "--zones", "A1,A3", "--count", "1", "--yes")
    assert "washes: A2 5 washes; A1, A3 6 washes" in more
    assert "BEFORE YOU BEGIN" not in more
    line = ("wash", "quay-1", "--zones", "A1 A3", "--correct", "-1", "--reason", "twice")
    assert "corrected by -1: A1, A3" in said(bench, *line)
    assert said(bench, "wash", "quay-1", "--show").strip() == "washes: A1, A2, A3 5 washes"
    assert "went past" in said(bench, "wash", "quay-1", "--count", "6", "--yes").lower()


def test_a_wash_without_a_number_needs_a_terminal(bench: Path) -> None:
    assert "--count 1" in said(bench, "wash", "quay-1", code=1)
    said(bench, "wash", "quay-1", "--correct", "-1", code=2)
    said(bench, "wash", "quay-1", "--reason", "x", code=2)
    said(bench, "wash", "quay-1", "--count", "1", "--show", code=2)


def test_applications_ratings_and_photos_are_recorded(bench: Path) -> None:
    first = ("apply", "quay-4", "A1", "--amount", "4 ml", "--haze-minutes", "2.5")
    asked = said(bench, *first, code=1)
    assert "bare of A1 was not looked at in full: 2 readings of gloss20 cannot be taken" in asked
    assert "recorded: tern on A1, at " in said(bench, *first, "--yes")
    asked = said(bench, "apply", "quay-4", "--treatment", "tern", code=1)
    assert "A1 has the product on already: this is another coat" in asked
    told = said(bench, "apply", "quay-4", "--treatment", "tern", "--yes")
    assert "recorded: tern on A1 (coat 2); tern on A3, at " in told
    # What is refused anyhow is not asked about first.
    refused = said(bench, "apply", "quay-4", "A1", "A2", code=1)
    assert "NOTE" not in refused
    assert "which stays untreated" in refused
    washed = said(bench, "apply", "quay-1", "A1", code=1)
    assert "A1 had 11 washes before this application" in washed
    rate = ("rate", "quay-1", "applied", "--by", "Ada", "--scale", "water", "--zone", "A1")
    assert "3 of 3: round drops" in said(bench, *rate, "--step", "3")
    assert "rated already" not in said(bench, *rate, "--step", "2", "--reason", "wrong zone")
    assert "2 ratings left" in said(bench, "rate", "quay-1", "applied", "--by", "Ada", "--plain")
    said(bench, "rate", "quay-1", "--by", "Ada", code=2)
    said(bench, *rate, code=2)
    assert "applied, wash-5, wash-10" in said(bench, "rate", "quay-1", "bare", "--by", "A", code=1)
    picture = bench.parent / "a1.jpg"
    picture.write_bytes(b"drops")
    told = said(bench, "photo", "quay-1", str(picture), "--zone", "A1")
    assert "5 bytes, SHA-256 " in told
    assert "recorded before" in said(bench, "photo", "quay-1", str(picture))


def test_an_application_that_was_told_wrongly_is_taken_back_with_the_reason(bench: Path) -> None:
    said(bench, "apply", "quay-3", "A1", "A3", "--yes")
    said(bench, "apply", "quay-3", "A1", "--amount", "5 ml", "--yes")
    back = ("apply", "quay-3", "A1", "--take-back", "--reason")
    assert said(bench, *back, "it was <b>A3</b>").count("taken back: the application of A1") == 1
    said(bench, *back, "", code=2)
    said(bench, "apply", "quay-3", "A2", "--take-back", "--reason", "x", code=1)
    # The first coat stands, and a third one is the second.
    assert "A1 (coat 2)" in said(bench, "apply", "quay-3", "A1", "--yes")
    with StoreReader(store_of(bench)) as reader:
        record = load_trial(reader.path, "quay-3")
    assert [row.amount for row in record.work.applications if row.zone == "A1"] == ["", ""]
    part = work_part(record)
    (line,) = (row for row in part.coats if row.amount == "5 ml")
    assert line.note.startswith("TAKEN BACK on ")
    assert "it was <b>A3</b>" in line.note
    said(bench, *back, "all wrong")
    said(bench, *back, "all wrong")
    shown = said(bench, "trial", "show", "quay-3")
    assert "applied: 1 of 2 zones" in shown
    assert shown.count("taken back: the application of A1 (all wrong)") == 2
    said(bench, *back, "no more", code=1)


def test_a_photo_that_was_moved_is_written_down_at_its_new_place_and_asked_about_no_more(
    bench: Path,
) -> None:
    old, new = bench.parent / "m1.jpg", bench.parent / "album" / "m2.jpg"
    old.write_bytes(b"moved drops")
    said(bench, "photo", "quay-2", str(old), "--zone", "A1", "--stage", "wash-5", "--note", "n")
    new.parent.mkdir()
    old.rename(new)
    assert "GONE" in said(bench, "photo", "quay-2", "--check", code=1)
    told = said(bench, "photo", "quay-2", "--check", "--in", str(new.parent))
    assert "the same picture" in told
    assert "written down: 1 photo at its new place" in told
    again = said(bench, "photo", "quay-2", "--check")
    assert "GONE" not in again
    assert again.count("as it was recorded") == 1
    assert "written down" not in said(bench, "photo", "quay-2", "--check", "--in", str(new.parent))
    with StoreReader(store_of(bench)) as reader:
        first, second = Worked(reader.rows).photos("quay-2")
        assert (first.path, second.path) == (str(old), str(new))
        assert first[3:6] + first[7:] == second[3:6] + second[7:]
        # The page has the picture once, under its name of now.
        (line,) = work_part(load_trial(reader.path, "quay-2")).photos
    assert (line.name, line.note) == ("m2.jpg", "n")
    # In a closed trial nothing is written down; it is found all the same.
    with acting(bench) as client:
        client.call("close_trial", trial="quay-2", why="done")
        new.rename(bench.parent / "m3.jpg")
        assert "NOTE" not in said(bench, "wash", "quay-2", "--count", "1", code=1)
        closed = said(bench, "photo", "quay-2", "--check", "--in", str(bench.parent))
        assert closed.count("the same picture") == 1
        assert "not written down: trial quay-2 is closed" in closed
        client.call("reopen_trial", trial="quay-2")


def test_next_says_what_is_due_of_one_trial_or_of_all(bench: Path) -> None:
    every = said(bench, "next")
    assert "quay-2: measure bare, gloss20: 6 readings to take. Next: coatbench run quay-2" in every
    assert "quay-1" not in said(bench, "next", "quay-2")
    found = json.loads(said(bench, "next", "quay-2", "--json"))
    assert [(d["trial"], d["urgency"]) for d in found["due"]] == [("quay-2", "measure")]
    assert "quay-1, quay-2" in said(bench, "next", "quay-9", code=1)


def test_the_drawing_of_a_trial_ends_with_what_is_next(bench: Path) -> None:
    shown = said(bench, "trial", "show", "quay-2").splitlines()
    assert any("A1" in line and "A2" in line for line in shown)
    (due,) = [d["what"] for d in json.loads(said(bench, "next", "quay-2", "--json"))["due"]]
    assert [line for line in shown if line.startswith("due: ")] == [
        f"due: {due}. Next: coatbench run quay-2 bare --with shore"
    ]
    assert shown[-1].startswith("due: ")


def test_a_closed_trial_has_nothing_due(bench: Path) -> None:
    with acting(bench) as client:
        client.call("close_trial", trial="quay-2", why="done")
        assert "quay-2" not in said(bench, "next")
        client.call("reopen_trial", trial="quay-2")


def test_a_moment_is_an_hour_of_today_or_a_day_with_it() -> None:
    assert moment_ns("2023-11-14T22:13:20+00:00", NOW) == NOW
    assert 0 <= abs(moment_ns("00:00", NOW) - NOW) < 86_400 * 10**9
    assert moment_ns("0.30", NOW) - moment_ns("00:00", NOW) == 1800 * 10**9
    for text in ("tomorrow", "25:00", "", "9999999-01-01", "12:60"):
        with pytest.raises(Misuse, match="that is no time"):
            moment_ns(text, NOW)
