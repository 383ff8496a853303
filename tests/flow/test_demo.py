"""The demo, end to end on real parts: what it shows, what it stores, and that it can be proved."""

from __future__ import annotations

import contextlib
import html
import io
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from acquire.cli.demo import shell_of
from acquire.cli.entry import run
from acquire.demo import run_demo
from acquire.demo.pocket import Pocket
from acquire.demo.run import leave_only
from acquire.demo.scenario import CLOCK, scenario
from acquire.errors import Misuse
from acquire.report.proof.proof import prove
from acquire.store import StoreReader
from acquire.store.misfit import Misfit
from acquire.store.verify import verify
from tests.flow.served import COATBENCH

# The whole job, all of its devices and the daemon as processes of their own: minutes where several
# tests run at once on two cores.
pytestmark = pytest.mark.timeout(900)


def play(folder: Path, *options: str) -> str:
    found = subprocess.run(
        # The folder as a tester names it, from where it is.
        [COATBENCH, "demo", "--fast", "--keep", folder.name, *options],
        cwd=folder.parent,
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert found.returncode == 0, found.stdout + found.stderr
    return found.stdout


def told(kept: tuple[Path, str], *words: str) -> str:
    """What a command says of the bench that the demo left, in one line."""
    spoken = io.StringIO()
    with contextlib.redirect_stdout(spoken):
        assert run(["--bench", str(kept[0] / "bench.toml"), *words]) == 0
    return " ".join(spoken.getvalue().split())


def hold_in_order(said: str, patterns: Sequence[str]) -> None:
    """That each stands in the text behind the one before it."""
    place = 0
    for words in patterns:
        found = re.compile(words).search(said, place)
        assert found is not None, words
        place = found.end()


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, play(folder)


def test_a_drifted_meter_is_refused_with_reason_figure_limit_and_next_step(
    kept: tuple[Path, str],
) -> None:
    said = " ".join(kept[1].split())
    assert "shore cannot start a run (check fail)" in said
    assert re.search(r"T1 at 20° read 93\.\d+ GU, \+2\.\d+ from its certified 91\.4 GU", said)
    assert "limit 1.0 GU" in said
    assert "re-adjust shore by its own button" in said
    assert said.index("cannot start a run") < said.index("check after re-adjustment of shore: PASS")


def test_what_the_checks_foresee_block_leave_undecided_and_make_suspect_is_told_in_its_order(
    kept: tuple[Path, str],
) -> None:
    said = " ".join(kept[1].split())
    told = [
        r"by a clock that was set back",
        r"10 of 10 checks passed",
        r"told first on \d{4}-\d\d-\d\d",
        r"warning: T1 at 20° of shore will reach its limit about",
        r"opening check of shore: PASS",
        r"warning: T1 at 20° of shore will reach its limit about \d{4}-\d\d-\d\d",
        r"plan a re-adjustment",
        r"opening check of shore: UNDECIDED, T1 at 20° read 92\.\d+ GU",
        r"too near the limit to decide",
        r"shore cannot start a run \(check undecided\)",
        r"opening check of shore: FAIL",
        r"shore cannot start a run \(check fail\)",
        r"is kept loose and counts for nothing",
        r"check after re-adjustment of shore: PASS",
        r"as found: T1 at 20° \+2\.\d\d GU",
        r"as left: T1 at 20° [+-]0\.0\d GU",
        r"closing check of shore: FAIL, T1 at 20° read 89\.\d+ GU",
        r"60 readings of run \d+ \(gelcoat-1, wash-5\) are suspect and count no more",
        r"as found: T1 at 20° -2\.\d\d GU",
        r"the places that are open again are read again",
        r"closing check of shore: PASS",
        r"60 suspect readings are left out of the results",
        r"report: \S+report\.html drift: \S+drift\.html store: \S+boatyard\.sqlite",
        r"coatbench drift shore --bench \S+bench\.toml",
    ]
    hold_in_order(said, told)


def test_the_pages_explain_what_happened_to_the_meter(kept: tuple[Path, str]) -> None:
    drift = html.unescape((kept[0] / "drift.html").read_text(encoding="utf-8")).replace("\xa0", " ")
    for words in (
        CLOCK,
        "As found and as left",
        "How to read the charts",
        r"Check 23 on \d{4}-\d\d-\d\d found T1 at 20° of shore \+0\.[78]\d GU off",
        r"it came sooner than was foreseen: check \d on \d{4}-\d\d-\d\d warned first, and every "
        r"check after it up to check 19; the last of them expected it about \d{4}-\d\d-\d\d",
        r"Check 26 on \S+ found T1 at 20° of shore −2\.\d\d GU off[^;]+; it could not be foreseen",
    ):
        assert re.search(words, drift), words
    page = html.unescape((kept[0] / "report.html").read_text(encoding="utf-8"))
    page = page.replace("\xa0", " ")
    assert CLOCK in page
    assert "How the meters held" in page
    place = page.index('<section id="events"')
    for words in (
        "What happened to the meters",
        "between the two it is undecided",
        "Check 23 of shore was undecided",
        "too near the limit to decide",
        "With T1 at 20° it came sooner than was foreseen: check",
        "The check cannot say on which side",
        "check 24 failed.",
        "Check 24 of shore failed",
        "came from shore all the same before it passed again; it is kept and counts for nothing",
        "shore was re-adjusted and checked again",
        "shore was re-adjusted, and check 25 passed",
        "as found (check 24, the last one before): T1 at 20° +2.",
        "as left (check 25, the first one after): T1 at 20° ",
        "Check 26 of shore failed, and 60 earlier readings became suspect",
        "it could not be foreseen",
        "are left out of every figure of this page",
        "all of their places were read again in run ",
        "shore was re-adjusted, and check 27 passed",
        "Every check, piece by piece",
    ):
        place = page.find(words, place)
        assert place >= 0, words
    assert (
        "not watched"
        not in page[page.index('<section id="events"') : place].partition("</section>")[0]
    )
    with StoreReader(kept[0] / "boatyard.sqlite") as store:
        outcomes = store.rows(
            "SELECT outcome, count(*) AS n FROM checks WHERE instrument = 'shore' GROUP BY outcome"
        )
        suspects = store.rows("SELECT count(*) FROM readings WHERE bracket = 'suspect'")
    assert {row["outcome"]: row["n"] for row in outcomes} == {
        "pass": 10 + 1 + 1 + 1 + 2 + 2,
        "undecided": 1,
        "fail": 2,
    }
    assert suspects[0][0] == 60


def test_every_reading_that_counts_is_bracketed_by_two_passed_checks(
    kept: tuple[Path, str],
) -> None:
    with StoreReader(kept[0] / "boatyard.sqlite") as store:
        counting = store.rows("SELECT bracket, flags, value FROM readings WHERE counts = 1")
        # Gloss and slickness at four stages, films at two, three channels once, the typed meter
        # once; and the study of one meter.
        assert len(counting) == 12 * (5 * 4 + 2 * 4 + 2 * 2 + 3 + 1) + 5 * 6
        assert {row["bracket"] for row in counting} == {"bracketed"}
        assert store.one("SELECT count(*) FROM readings WHERE void_reason IS NOT NULL") == 1
        # The run that a check undecided, and then failed, did not let begin; nothing else.
        troubles = store.rows("SELECT kind FROM troubles")
        assert [row["kind"] for row in troubles] == ["run refused"] * 2
        assert store.one("SELECT count(*) FROM noise") == 0


def test_a_device_of_each_wire_measures_and_all_three_kinds_are_decided_on(
    kept: tuple[Path, str],
) -> None:
    with StoreReader(kept[0] / "boatyard.sqlite") as store:
        families = {
            row["driver"]: row["kind"]
            for row in store.rows(
                "SELECT driver, kind FROM instrument JOIN reading ON instrument.instrument = "
                "reading.instrument WHERE reading.role <> 'loose' GROUP BY driver"
            )
        }
        assert store.one("SELECT count(*) FROM spectrum") == 12 * 2 * 2 + 2 * 9
        assert store.one("SELECT count(*) FROM readings WHERE typed AND counts") == 12
        (sled,) = store.rows(
            "SELECT value_real FROM readings WHERE instrument = 'scale' AND role = 'loose'"
        )
    assert families == {
        "line": "gloss",
        "modbus": "gloss",
        "keyed": "gloss",
        "frame": "force",
        "hid": "force",
        "usbtmc": "transmittance",
    }
    # The sled is 200.0 g; g_n is 9.80665 m/s2 (the SI brochure, 9th edition, appendix 4).
    assert sled["value_real"] == pytest.approx(0.2000 * 9.80665, abs=0.002)
    said = told(kept, "results", "gelcoat-1")
    for decided in (
        r"Plover sealant \(\d+\), wash-10: better than the control\. Net change [a-z ]+ \+",
        r"Dunlin ceramic \(\d+\), wash-10: better than the control\. Net change [a-z ]+ −0\.1",
        r"Plover sealant \(\d+\), applied: better than the control. In UVA 315-400 nm",
        r"the film lets 6[12]\.\d+ %",
    ):
        assert re.search(decided, said), decided


def test_the_wash_life_is_decided_and_how_sure_it_is_is_told(kept: tuple[Path, str]) -> None:
    page = html.unescape((kept[0] / "report.html").read_text(encoding="utf-8"))
    page = page.replace("\xa0", " ")
    section = page[page.index('<section id="washlife"') :].partition("</section>")[0]
    for said in (told(kept, "results", "gelcoat-1"), " ".join(section.split())):
        for words in (
            r"Plover sealant \(\d+\) lasted at least 10 washes on all of its 2 zones",
            r"Grebe wax \(\d+\)[^.]* gone by 10 washes",
            "the treatment made it worse before the first wash",
            "when half of its gain is lost",
            "Intervals are held at 98.98 % each, so that those of all 5 treatments",
        ):
            assert re.search(words, said), words
    assert section.count("<svg") >= 3


def test_the_trial_is_told_from_its_plan_to_its_publication(kept: tuple[Path, str]) -> None:
    said = " ".join(kept[1].split())
    told_in_order = [
        r"\$ coatbench study --show 1 study 1: Repeatability of shore",
        r"\$ coatbench trial new --yes --blind --id gelcoat-1",
        r"with shore: repeatability 0\.\d+ GU from study 1",
        r"complete blocks: every treatment equally often in each row; seed 402",
        r"\$ coatbench trial show gelcoat-1",
        r"\$ coatbench trial key gelcoat-1 --to Jonas --out sheet.txt",
        r"\$ coatbench apply gelcoat-1 [AB]\d",
        r"rate how each product comes off",
        r"\$ coatbench wash gelcoat-1 --count 5",
        r"CHECKPOINT wash-5 reached",
        r"Ines and Marten rate how water behaves on 12 zones at wash-5, blind",
        r"\$ coatbench photo gelcoat-1 water-[AB]\d-wash-5\.svg --zone [AB]\d --stage wash-5",
        r"\$ coatbench next gelcoat-1 gelcoat-1: .*5 washes to go to wash-10",
        r"CHECKPOINT wash-10 reached",
        r"\$ coatbench trial unseal gelcoat-1 --by Ines",
        r"\$ coatbench rescore gelcoat-1 --scorecard yard.toml",
        r"Chance to be first, each life counted at its least: Plover sealant \(\d+\) above 99 %",
        r"\$ coatbench import past.csv",
        r"\$ coatbench alltime",
        r"autumn 2023 imported, unchecked",
        r"\$ coatbench results gelcoat-1 --short",
        r"Blind until it was unsealed",
        r"Plover sealant \(\d+\) is first, shown to be ahead of all others",
        r"432 of 432 planned readings count",
        r"\$ coatbench captions gelcoat-1 --clap 1",
        r"432 readings in \d+ captions",
        r"\$ coatbench package gelcoat-1 --out gelcoat-1.zip",
        r"\$ coatbench recompute gelcoat-1.zip",
        r"SAME: every figure is what the rows give",
    ]
    hold_in_order(said, told_in_order)
    before, after = said.split("trial unseal gelcoat-1", 1)
    planned = before.index("trial show gelcoat-1")
    assert "Plover sealant" not in before[planned:], "no screen names a product while it is blind"
    assert "Plover sealant" in after
    for name in ("report.html", "gelcoat-1.zip", "film.vtt", "film.txt"):
        assert (kept[0] / name).stat().st_size > 0


def test_what_was_done_beside_readings_is_kept(kept: tuple[Path, str]) -> None:
    with StoreReader(kept[0] / "boatyard.sqlite") as store:
        count = store.one
        assert count("SELECT count(*) FROM application") == 10
        assert count("SELECT sum(washes) FROM wash") == 10
        assert count("SELECT count(*) FROM rating WHERE zone <> ''") == 2 * 3 * 12
        assert count("SELECT count(*) FROM rating WHERE zone = ''") == 2 * 5
        assert count("SELECT count(*) FROM key_opening") == 2
        assert count("SELECT count(*) FROM photo WHERE stage = 'wash-5'") == 1
        blind = store.rows("SELECT rater, min(is_blind), max(is_blind) FROM rating GROUP BY rater")
    assert [tuple(row) for row in blind] == [("Ines", 1, 1), ("Jonas", 0, 0), ("Marten", 1, 1)]


def test_readings_of_every_instrument_are_proved_from_their_bytes(kept: tuple[Path, str]) -> None:
    store = kept[0] / "boatyard.sqlite"
    with StoreReader(store) as reader:
        rows = reader.rows("SELECT reading_id, instrument FROM readings ORDER BY reading_id")
    # Some of each: the whole tapes are played below, and the seals are the same each time.
    numbers = [row["reading_id"] for row in rows if row["reading_id"] % 100 == 0]
    first = {row["instrument"]: row["reading_id"] for row in reversed(rows)}
    assert set(first) == {"shore", "deck", "pocket", "hook", "scale", "light"}
    numbers += first.values()
    assert [n for n in numbers if not prove(store, n).holds] == []


def test_a_tampered_reading_is_not_proved(kept: tuple[Path, str], tmp_path: Path) -> None:
    # By another name than those of stores that have to fit their seals.
    copy = tmp_path / "forged.db"
    shutil.copy(kept[0] / "boatyard.sqlite", copy)
    forger = sqlite3.connect(copy)
    forger.execute("DROP TRIGGER reading_no_update")
    forger.execute("UPDATE reading SET text = '99.9', value = '99.9' WHERE id = 40")
    forger.commit()
    forger.close()
    proof = prove(copy, 40)
    assert not proof.holds
    assert "NOT PROVED" in proof.lines[-1]
    for store, told in (
        (kept[0] / "boatyard.sqlite", None),
        (copy, Misfit("reading", 40, "is not what was recorded")),
    ):
        with StoreReader(store) as reader:
            assert verify(reader).misfit == told


def test_the_tape_gives_the_readings_after_a_hole_all_the_same(
    kept: tuple[Path, str], tmp_path: Path
) -> None:
    copy = tmp_path / "with-a-hole.db"
    shutil.copy(kept[0] / "boatyard.sqlite", copy)
    hole = sqlite3.connect(copy)
    hole.execute("DROP TRIGGER tape_no_delete")
    (lost,) = hole.execute(
        "SELECT id FROM tape WHERE direction = 'received' AND connection_id = "
        "(SELECT connection_id FROM reading WHERE id = 40) "
        "AND start <= (SELECT raw_start FROM reading WHERE id = 40) ORDER BY start DESC LIMIT 1"
    ).fetchone()
    hole.execute("DELETE FROM tape WHERE id = ?", (lost,))
    hole.commit()
    hole.close()
    assert not prove(copy, 40).holds
    for number in (38, 39, 42, 60, 120):
        # Nothing is proved of a store that was changed, and what its tape gives is said besides.
        assert "though the tape gives this reading" in prove(copy, number).lines[-1]


def test_the_report_needs_no_network_and_names_the_void(kept: tuple[Path, str]) -> None:
    page = (kept[0] / "report.html").read_text(encoding="utf-8")
    assert not re.findall(r"""(?:src|href)\s*=\s*["'](?!#|data:)[^"']+""", page)
    assert "slipped over the edge" in page
    assert "bend of the head" in page, "a line of the budgets of films"
    assert "How far the checks found the head" in page
    assert "Plover sealant" in page
    assert all(f"<h3>Gloss at 20°, measure {name}</h3>" in page for name in ("gloss-20", "pocket"))
    assert "<h3>Static coefficient of friction</h3>" in page


def test_the_same_seed_gives_the_same_numbers_also_where_devices_are_on_the_network(
    tmp_path: Path, kept: tuple[Path, str]
) -> None:
    folder = tmp_path / "network"
    assert run_demo(shell_of(1), fast=True, keep=folder, has_terminals=False, publishes=False) == 0
    sql = (
        "SELECT instrument, role, zone, stage, replicate, channel, value FROM readings "
        "ORDER BY reading_id"
    )
    with StoreReader(folder / "boatyard.sqlite") as store:
        lines = store.rows(
            "SELECT opened_as FROM connection WHERE instrument IN ('shore', 'deck', 'hook')"
        )
        assert {row["opened_as"].partition(":")[0] for row in lines} == {"socket"}
        again = [tuple(row) for row in store.rows(sql)]
    with StoreReader(kept[0] / "boatyard.sqlite") as store:
        assert [tuple(row) for row in store.rows(sql)] == again


def test_another_seed_gives_other_numbers() -> None:
    def numbers(seed: int) -> list[str]:
        day = scenario(seed)
        assert {device.seed for device in day.devices} == {seed}
        pocket = Pocket("PK-0088", seed, day.things)
        pocket.put("A1")
        return [pocket.press() for _ in range(20)]

    assert numbers(1) == numbers(1)
    assert numbers(1) != numbers(2)


def test_every_tape_plays_as_it_was_made_and_the_gate_answers_as_it_did(
    kept: tuple[Path, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = kept[0]
    with StoreReader(folder / "boatyard.sqlite") as reader:
        tapes = [row["id"] for row in reader.rows("SELECT id FROM connection ORDER BY id")]
        counting = reader.one("SELECT count(*) FROM readings WHERE counts = 1")
    assert len(tapes) == 7

    def answered(*words: str) -> str:
        capsys.readouterr()
        code = run(["--bench", str(folder / "bench.toml"), *words])
        out, err = capsys.readouterr()
        assert code == 0, out + err
        return out

    asked = 0
    for number in tapes:
        played = answered("replay", str(number))
        assert "the same as the day it was made" in played
        (gate,) = [line for line in played.splitlines() if line.startswith("the gate")]
        if "no reading of this tape counts" not in gate:
            assert gate.endswith("the same answers")
            asked += int(gate.split("asked again of ")[1].split()[0])
        tape = tmp_path / f"{number}.tape"
        answered("tape", "cut", str(number), "--out", str(tape))
        assert "the same as the day it was made" in answered("replay", str(tape))
    assert asked == counting > 0


def test_of_a_demo_that_is_not_kept_the_report_alone_stays(
    kept: tuple[Path, str], tmp_path: Path
) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(kept[0], folder, symlinks=True)
    (folder / "shore-port").symlink_to(tmp_path)
    leave_only(folder / "report.html", folder / "drift.html")
    assert {left.name for left in folder.iterdir()} == {"report.html", "drift.html"}
    assert tmp_path.is_dir()


def test_a_folder_that_is_not_empty_is_left_alone(kept: tuple[Path, str]) -> None:
    found = subprocess.run(
        [COATBENCH, "demo", "--keep", str(kept[0])], capture_output=True, text=True, check=False
    )
    assert found.returncode == 1
    assert "is not empty" in found.stderr


def test_a_folder_that_cannot_be_made_is_told_in_one_message(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(Misuse, match="cannot be made or written to") as caught:
        run_demo(shell_of(1), fast=True, keep=tmp_path / "taken" / "below")
    assert caught.value.got
    assert caught.value.next_step == "name another folder with --keep"
