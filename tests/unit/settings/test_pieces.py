"""Reference pieces in the bench file: what they are, their certificates' files, every fault."""

from __future__ import annotations

import os
import re
import sys
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest

from acquire.errors import SettingsError
from acquire.model import Bench, Quantity, WeightClass
from acquire.settings import config_dir, load_bench
from acquire.settings.certificate_file import LARGEST_BYTES

BOATYARD = config_dir() / "boatyard" / "bench.toml"

WEIGHT = """
[[piece]]
id = "W500"
kind = "check-weight"
serial = "47"
mass = { value = 0.5, unit = "kilogram" }
weight_class = "M1"

[[piece.certificate]]
quantity = "force"
value = 500.3
unit = "gram_force"
expanded_uncertainty = 0.1
coverage_factor = 2
issued = 2025-03-10
due = 2030-03-10
issuer = "Invented calibration laboratory"
"""

FILTER = """
[[piece]]
id = "N50"
kind = "neutral-filter"

[[piece.nominal]]
band = "315-400"
value = 0.5
unit = "one"

[[piece.certificate]]
quantity = "transmittance"
band = "315-400"
value = 48.7
unit = "percent"
expanded_uncertainty = 0.3
coverage_factor = 2
issued = 2025-03-10
due = 2030-03-10
issuer = "Invented calibration laboratory"
"""

FILE_LINE = '# file = "certificates/T1-2025.pdf"'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "certificates").mkdir()
    return tmp_path


def text_of(*changes: tuple[str, str], more: str = "") -> str:
    text = BOATYARD.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text + more


def load(folder: Path, text: str) -> Bench:
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return load_bench(path)


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        load(folder, text)
    return [str(fault) for fault in caught.value.faults]


def test_the_example_says_what_its_high_tile_is(folder: Path) -> None:
    bench = load(folder, text_of())
    tile = bench.piece("T1")
    assert tile is not None
    assert (tile.serial, tile.name) == ("HT-4711", "high tile")
    assert tile.nominal.refractive_index == Decimal("1.535")
    assert tile.nominal.index_wavelength_nm == Decimal("587.6")
    assert tile.nominal.values == {"20": Decimal(91)}
    certificate = tile.certificate(Quantity.GLOSS, "20")
    assert certificate is not None
    assert certificate.number == "IC-25-0310"
    assert bench.due_soon_days == 30


def test_what_the_example_has_behind_a_sign_of_comment_is_sound_too(folder: Path) -> None:
    (folder / "certificates" / "T1-2025.pdf").write_bytes(b"%PDF")
    behind = re.compile(r"^# ((?:\[\[|\w+ = ).*)$", re.M)
    text, count = behind.subn(r"\1", BOATYARD.read_text(encoding="utf-8"))
    assert count > 20
    # It would leave the policies without the tile's certificate.
    text = text.replace("withdrawn =", "# withdrawn =")
    bench = load(folder, text)
    assert [p.id for p in bench.pieces] == ["T1", "T2", "Z0", "W500", "N50"]
    weight = bench.piece("W500")
    assert weight is not None
    assert weight.nominal.gravity_m_s2 == Decimal("9.8137")


def test_nominal_figures_are_kept_in_the_units_of_readings(folder: Path) -> None:
    bench = load(folder, text_of(more=WEIGHT + FILTER))
    weight, filter_ = bench.piece("W500"), bench.piece("N50")
    assert weight is not None
    assert filter_ is not None
    assert weight.nominal.mass_g == 500
    assert weight.nominal.weight_class is WeightClass.M1
    assert filter_.nominal.values == {"315-400": Decimal(50)}


def test_the_file_of_a_certificate_is_found_beside_the_bench_file_and_hashed(folder: Path) -> None:
    data = b"%PDF invented"
    (folder / "certificates" / "T1-2025.pdf").write_bytes(data)
    tile = load(folder, text_of((FILE_LINE, FILE_LINE[2:]))).piece("T1")
    assert tile is not None
    file = tile.certificates[0].file
    assert file is not None
    assert (file.name, file.size_bytes) == ("certificates/T1-2025.pdf", len(data))
    assert file.sha256 == sha256(data).hexdigest()


def test_a_file_that_cannot_be_kept_is_a_fault_with_its_place(folder: Path) -> None:
    text, path = text_of((FILE_LINE, FILE_LINE[2:])), folder / "certificates" / "T1-2025.pdf"
    wanted = "wanted a file of at most 20 MB, beside this one"
    at = "piece[0].certificate[0].file: got 'certificates/T1-2025.pdf'"
    assert faults(folder, text) == [f"{at}, no such file, {wanted}"]
    path.mkdir()
    assert faults(folder, text) == [f"{at}, a folder, {wanted}"]
    path.rmdir()
    path.write_bytes(b"")
    assert faults(folder, text) == [f"{at}, an empty file, {wanted}"]
    with path.open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    assert faults(folder, text) == [f"{at}, a file of more than 20,000,000 bytes, {wanted}"]
    with path.open("wb") as file:
        file.truncate(LARGEST_BYTES)
    load(folder, text)


@pytest.mark.skipif(sys.platform == "win32", reason="no named pipes")
def test_a_pipe_in_the_place_of_a_certificate_holds_nothing_up(folder: Path) -> None:
    os.mkfifo(folder / "certificates" / "T1-2025.pdf")
    (fault,) = faults(folder, text_of((FILE_LINE, FILE_LINE[2:])))
    assert "no regular file" in fault


def test_values_that_nothing_can_have_are_faults_of_the_bench_file(folder: Path) -> None:
    found = faults(
        folder,
        text_of(("value = 91.4 ", "value = 2100 "), ("value = 95.2", "value = -1"))
        + FILTER.replace("48.7", "100.5").replace("value = 0.5\n", "value = 1.2\n"),
    )
    assert found == [
        "piece[0].certificate[0].value: got 2100 gloss_unit, wanted at most 2037.6 at 20°, which "
        "is all light sent back",
        "piece[0].certificate[1].value: got -1, wanted a number, 0 or more",
        "piece[3].nominal[0].value: got 1.2 one, wanted at most 100 (percent) at 315-400 nm, "
        "which is all light let through",
        "piece[3].certificate[0].value: got 100.5 percent, wanted at most 100 at 315-400 nm, "
        "which is all light let through",
    ]


def test_every_fault_of_what_a_piece_is_is_told_at_once(folder: Path) -> None:
    weight = (
        WEIGHT.replace('unit = "kilogram"', 'unit = "newton"')
        .replace('"M1"', '"M9"')
        .replace('serial = "47"', "refractive_index = 1.5\nserial = 47")
    )
    filter_ = FILTER.replace("[[piece.nominal]]\nband", '[[piece.nominal]]\nunit = "one"\nvalue = 1'
                             '\n\n[[piece.nominal]]\nband')  # fmt: skip
    filter_ = filter_.replace('id = "N50"', 'id = "N50"\nindex_wavelength = 500\n'
                              'mass = { value = 1, unit = "gram" }')  # fmt: skip
    found = faults(folder, text_of(("due_soon_days = 30", "due_soon_days = -1"),
                                   ("# gravity = 9.8137", "gravity = 1.62"),
                                   more=weight + filter_))  # fmt: skip
    places = [fault.split(":")[0] for fault in found]
    assert places == [
        "bench.due_soon_days",
        "bench.gravity",
        "piece[3].refractive_index",
        "piece[3].serial",
        "piece[3].mass.unit",
        "piece[3].weight_class",
        "piece[4].index_wavelength",
        "piece[4].mass",
        "piece[4].nominal[0].band",
    ]


def test_a_second_certificate_of_a_day_is_allowed_beside_a_withdrawn_one_alone(
    folder: Path,
) -> None:
    certificate = text_of().split("[[piece.certificate]]")[1].split("# The certificate itself")[0]
    twice = text_of(
        ("[[piece.certificate]]", f"[[piece.certificate]]{certificate}\n[[piece.certificate]]")
    )
    (fault,) = faults(folder, twice)
    assert fault.startswith(
        "piece[0].certificate[1].issued: got 2025-03-10, wanted one certificate"
    )
    marked = twice.replace("value = 91.4", 'withdrawn = "typed wrongly"\nvalue = 94.1', 1)
    tile = load(folder, marked).piece("T1")
    assert tile is not None
    used = tile.certificate(Quantity.GLOSS, "20")
    assert used is not None
    assert used.value == Decimal("91.4")
