"""`coatbench pieces`, with a store and without one."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.piecewords import certified_words
from acquire.clock import ManualClock
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.opening import open_desk
from acquire.settings import config_dir, load_bench
from acquire.store import StoreWriter
from acquire.store.shelf import Shelf

Captured = pytest.CaptureFixture[str]
BOATYARD = config_dir() / "boatyard"
FILE = b"%PDF invented"


def today() -> date:
    return datetime.now(UTC).date()


class Place:
    """A folder with the example bench, its certificates ending in so many days."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "bench.toml"
        (folder / "T1.pdf").write_bytes(FILE)
        self.days = {"T1": 400, "T2": 12, "Z0": 400}
        self.write()

    def write(self, *changes: tuple[str, str]) -> None:
        parts = (BOATYARD / "bench.toml").read_text(encoding="utf-8").split("[[piece]]\n")
        for place, days in enumerate(self.days.values(), 1):
            due = today() + timedelta(days=days)
            parts[place] = parts[place].replace("due = 2030-03-10", f"due = {due}")
        text = "[[piece]]\n".join(parts).replace(
            '# file = "certificates/T1-2025.pdf"', 'file = "T1.pdf"'
        )
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        self.file.write_text(text, encoding="utf-8")

    def record(self) -> None:
        """What a daemon writes down at its start."""
        bench = load_bench(self.file)
        writer = StoreWriter(bench.store)
        desk = Desk(bench, Shelf(writer), Ids(writer.next_ids()))
        writer.append(open_desk(desk, ManualClock().now()))
        writer.close()

    def run(self, *arguments: str) -> int:
        return run(["--bench", str(self.file), "pieces", *arguments])


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


def test_the_pieces_are_listed_with_what_is_due_and_overdue(place: Place, capsys: Captured) -> None:
    place.days["Z0"] = -3
    place.write()
    place.record()
    assert place.run() == 0
    told = capsys.readouterr()
    lines = [line.split("\t") for line in told.out.splitlines()]
    soon = str(today() + timedelta(days=12))
    assert lines[1][:6] == [
        "T1", "gloss-tile", "HT-4711", "n = 1.535 (587.6 nm), 91 GU", "20°", "91.4 ± 0.4 GU"
    ]  # fmt: skip
    assert lines[1][8] == "400 days left"
    assert lines[3][4:] == ["20°", "52.6 ± 0.4 GU", "2025-03-10", soon, "DUE SOON, 12 days left"]
    assert lines[5][8] == "OVERDUE by 3 days"
    assert told.err == ""


def test_how_soon_is_soon_is_said_in_the_bench_file(place: Place, capsys: Captured) -> None:
    place.write(("due_soon_days = 30", "due_soon_days = 11"))
    place.run()
    assert "DUE SOON" not in capsys.readouterr().out


def test_without_a_store_the_bench_file_is_enough(place: Place, capsys: Captured) -> None:
    assert place.run("T1") == 0
    told = capsys.readouterr()
    assert "400 days left" in told.out
    assert "nothing is recorded yet: there is no store at" in told.err


def test_what_is_not_plausible_stands_below_the_list(place: Place, capsys: Captured) -> None:
    place.write(("refractive_index = 1.535", "refractive_index = 1.567"))
    assert place.run() == 0
    told = [x for x in capsys.readouterr().out.splitlines() if x.startswith("NOT PLAUSIBLE")]
    assert [text.split(" says ")[0] for text in told] == [
        "NOT PLAUSIBLE: the certificate of T1 at 20°",
        "NOT PLAUSIBLE: the certificate of T1 at 60°",
    ]


def test_an_edited_certificate_is_named_before_a_daemon_refuses_it(
    place: Place, capsys: Captured
) -> None:
    place.record()
    place.write(("value = 91.4 ", "value = 91.9 "))
    assert place.run() == 1
    out = capsys.readouterr().out
    assert "EDITED: piece[0].certificate[0].value: got 91.9 gloss_unit, wanted 91.4" in out
    assert out.splitlines()[-1].startswith("next: put it back as it was recorded")


def test_what_was_entered_since_the_daemon_started_is_told(place: Place, capsys: Captured) -> None:
    place.record()
    assert place.run() == 0
    assert "NOT RECORDED YET" not in capsys.readouterr().out
    own = place.file.read_text(encoding="utf-8").split("[[piece.certificate]]")[1]
    other = own.replace("91.4", "91.9").replace('file = "T1.pdf"', "")
    withdrawn = own.replace("value =", 'withdrawn = "typed wrongly"\nvalue =')
    place.write((own, f"{withdrawn}\n[[piece.certificate]]{other}"))
    assert place.run() == 0
    told = capsys.readouterr().out.splitlines()
    issued = "the certificate of T1 at 20° issued 2025-03-10"
    assert told[-3:] == [
        f"NOT RECORDED YET: {issued} (91.4 GU) is withdrawn",
        f"NOT RECORDED YET: {issued} (91.9 GU) is new",
        "checks go by what stood when the daemon started. "
        "Next: coatbench stop, then coatbench serve, where one runs",
    ]
    assert place.run("--json") == 0
    assert len(json.loads(capsys.readouterr().out)["unrecorded"]) == 2
    place.record()
    assert place.run() == 0
    assert "NOT RECORDED YET" not in capsys.readouterr().out


def test_with_an_id_every_certificate_that_was_ever_recorded_is_listed(
    place: Place, capsys: Captured
) -> None:
    place.record()
    text = place.file.read_text(encoding="utf-8")
    certificate = "[[piece.certificate]]" + text.split("[[piece.certificate]]")[1]
    newer = certificate.replace("2025-03-10", "2026-03-10").replace("91.4", "91.1", 1)
    newer = newer.replace('file = "T1.pdf"', "").replace("IC-25-0310", "IC-26-0310")
    place.write(("[[piece.certificate]]", f"{newer}\n[[piece.certificate]]"))
    place.record()
    assert place.run("T1") == 0
    out = capsys.readouterr().out
    assert "name  high tile" in out
    history = [line.split("\t") for line in out.split("that was recorded\n")[1].splitlines()]
    file = f"T1.pdf ({sha256(FILE).hexdigest()[:12]}...)"
    laboratory = "Invented calibration laboratory"
    assert history[1][5:] == [f"{laboratory}, IC-25-0310", file, "earlier"]
    assert history[-1][1:3] == ["20°", "91.1 ± 0.4 GU, k = 2"]
    assert history[-1][5:] == [f"{laboratory}, IC-26-0310", "-", "in use"]


def test_as_json_it_has_everything_for_a_program(place: Place, capsys: Captured) -> None:
    place.record()
    assert place.run("T1", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    (tile,) = found["pieces"]
    assert (tile["piece"], tile["serial"]) == ("T1", "HT-4711")
    assert tile["certificates"][0]["fresnel"] == "91.32"
    assert tile["certificates"][0]["state"] == "valid"
    assert tile["recorded"][0]["file"] == {
        "name": "T1.pdf",
        "sha256": sha256(FILE).hexdigest(),
        "bytes": len(FILE),
    }
    assert found["faults"] == []


def test_the_kept_file_is_written_out_byte_for_byte_and_over_no_other(
    place: Place, tmp_path: Path, capsys: Captured
) -> None:
    place.record()
    # It is the store's, whatever became of the one beside the bench file.
    (tmp_path / "T1.pdf").unlink()
    place.write(('file = "T1.pdf"\n', ""))
    out = tmp_path / "again.pdf"
    assert place.run("T1", "--file", str(out)) == 0
    assert out.read_bytes() == FILE
    assert sha256(FILE).hexdigest() in capsys.readouterr().out
    assert place.run("T1", "--file", str(out)) == 1
    assert "a file that is there already" in capsys.readouterr().err


def test_a_piece_without_a_kept_file_and_one_that_nobody_knows_are_told(
    place: Place, tmp_path: Path, capsys: Captured
) -> None:
    place.record()
    out = str(tmp_path / "again.pdf")
    assert place.run("T2", "--file", out) == 1
    assert "no file is kept of T2" in capsys.readouterr().err
    assert place.run("T1", "--file", out, "--certificate", "2") == 1
    assert "no file is kept of certificate 2 of T1" in capsys.readouterr().err
    assert place.run("T9") == 1
    assert "T1, T2, Z0" in capsys.readouterr().err
    assert not Path(out).exists()


def test_a_file_without_a_piece_is_a_wrong_command_line(place: Place, capsys: Captured) -> None:
    assert place.run("--file", "x.pdf") == 2
    assert "go with the ID of a piece" in capsys.readouterr().err


def test_a_trial_is_told_which_certificates_for_it_are_due(place: Place, capsys: Captured) -> None:
    trial = str(BOATYARD / "trial.toml")
    assert run(["trial", "check", trial, "--bench", str(place.file)]) == 0
    out = capsys.readouterr().out
    soon = today() + timedelta(days=12)
    assert f"certificate of T2 at 20°, 60° due soon: 12 days left, {soon}" in out
    assert "next: coatbench pieces" in out.splitlines()
    assert run(["trial", "check", trial]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "no faults"


def test_next_says_which_certificates_end_whatever_trial_is_due(
    place: Place, capsys: Captured
) -> None:
    place.record()
    assert run(["next", "--bench", str(place.file)]) == 0
    out = capsys.readouterr().out
    soon = today() + timedelta(days=12)
    assert f"T2 at 20°, 60° due soon: 12 days left, {soon}" in out
    assert "Next: coatbench pieces" in out
    place.days["T2"] = -3
    place.write()
    assert run(["next", "--bench", str(place.file)]) == 0
    since = today() - timedelta(days=3)
    assert f"T2 at 20°, 60° OVERDUE since {since}" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("value", "u", "unit", "shown"),
    [
        ("91.40", "0.4", "gloss_unit", "91.40 ± 0.4 GU"),
        ("0.0", "0.1", "gloss_unit", "0.0 ± 0.1 GU"),
        # 0 and 500 gram-force, each ± 0.1, in newton.
        ("0E-8", "0.000980665", "newton", "0 ± 0.000981 N"),
        ("4.90332500", "0.000980665", "newton", "4.903325 ± 0.000981 N"),
        ("100", "0.1", "percent", "100 ± 0.1 %"),
    ],
)
def test_a_certified_value_is_shown_as_it_was_entered_or_to_six_decimals(
    value: str, u: str, unit: str, shown: str
) -> None:
    item = {"value": value, "expanded_uncertainty": u, "unit": unit}
    assert certified_words(item) == shown


def test_of_several_certificates_of_one_day_each_has_its_own_fate(
    place: Place, capsys: Captured
) -> None:
    place.record()
    own = place.file.read_text(encoding="utf-8").split("[[piece.certificate]]")[1]
    other = own.replace("91.4", "91.9").replace('file = "T1.pdf"', "")
    gone = ("value =", 'withdrawn = "a slip"\nvalue =')
    place.write((own, f"{own.replace(*gone)}\n[[piece.certificate]]{other}"))
    place.record()
    place.write((own, f"{own}\n[[piece.certificate]]{other.replace(*gone)}"))
    place.record()
    assert place.run("T1") == 0
    rows = [line.split("\t") for line in capsys.readouterr().out.splitlines() if "k = 2" in line]
    assert [(row[0], row[2].split(" ")[0], row[-1]) for row in rows if row[1] == "20°"] == [
        ("1", "91.4", "since 2026-05-04; recorded again as 10"),
        ("7", "91.4", "withdrawn: a slip, since 2026-05-04; recorded again as 10"),
        ("8", "91.9", "since 2026-05-04; recorded again as 9"),
        ("9", "91.9", "withdrawn: a slip"),
        ("10", "91.4", "in use"),
    ]
