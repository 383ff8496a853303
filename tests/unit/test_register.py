"""Certificates are added, never edited: what the daemon writes down at its start, and refuses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from acquire.errors import SettingsError
from acquire.model import Certificate, Nominal, Piece
from acquire.pipeline.register import register_lines
from acquire.pipeline.status import status
from acquire.settings.certificate_file import look_at
from acquire.store import StoreReader
from acquire.store.kept import Kept
from acquire.store.verify import verify
from tests.yard import Yard, pieces

COUNT = "SELECT count(*) FROM certificate"


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Yard(tmp_path)
    yield yard
    yard.close()


def begin_with(yard: Yard, *own: Piece) -> None:
    """Start again with other pieces; the desk of before stays where they are refused."""
    yard.close()
    before, yard.bench = yard.bench, replace(yard.bench, pieces=own)
    try:
        yard.open()
    except SettingsError:
        yard.writer.close()
        yard.bench = before
        yard.open()
        raise


def tile_and_trap(**changes: object) -> tuple[Piece, Piece]:
    """The pieces of the yard, the tile's certificate with these changes."""
    tile, trap = pieces()
    (certificate,) = tile.certificates
    return replace(tile, certificates=(replace(certificate, **changes),)), trap  # type: ignore[arg-type]


def newer(**changes: Any) -> Certificate:
    tile, _ = tile_and_trap(issued=date(2026, 4, 1), due=date(2031, 4, 1))
    return replace(tile.certificates[0], **changes)


def with_file(folder: Path, data: bytes, name: str = "T1.pdf") -> dict[str, object]:
    (folder / name).write_bytes(data)
    return {"file": look_at(folder, name)}


def refused(yard: Yard, *own: Piece) -> list[str]:
    rows = yard.writer.query(COUNT)[0][0]
    with pytest.raises(SettingsError, match="add the new certificate as a") as caught:
        begin_with(yard, *own)
    assert yard.writer.query(COUNT)[0][0] == rows
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            {"value": Decimal("94.0")},
            "value: got 94.0 gloss_unit, wanted 93.2 gloss_unit, as recorded on 2026-05-04",
        ),
        (
            {"expanded_uncertainty": Decimal("0.1")},
            "expanded_uncertainty: got 0.1 gloss_unit, wanted 0.3 gloss_unit, as recorded on",
        ),
        ({"coverage_factor": Decimal(3)}, "coverage_factor: got 3, wanted 2, as recorded on"),
        ({"due": date(2040, 1, 1)}, "due: got 2040-01-01, wanted 2030-01-31, as recorded on"),
        ({"issuer": "Lagoon"}, "issuer: got 'Lagoon', wanted 'Harbour Metrology', as recorded on"),
    ],
)
def test_a_certificate_with_another_figure_is_refused_and_nothing_is_recorded(
    yard: Yard, change: dict[str, object], told: str
) -> None:
    (fault,) = refused(yard, *tile_and_trap(**change))
    assert fault.startswith(f"piece[0].certificate[0].{told}")


def test_every_edited_figure_of_every_certificate_is_told_at_once(yard: Yard) -> None:
    tile, trap = tile_and_trap(value=Decimal(94), due=date(2040, 1, 1))
    edited = replace(trap.certificates[0], value=Decimal("0.3"))
    found = refused(yard, tile, replace(trap, certificates=(edited,)))
    assert [fault.split(":")[0] for fault in found] == [
        "piece[0].certificate[0].value",
        "piece[0].certificate[0].due",
        "piece[1].certificate[0].value",
    ]


def test_a_value_written_with_other_zeros_is_the_same_value(yard: Yard) -> None:
    begin_with(yard, *tile_and_trap(value=Decimal("93.20")))
    assert yard.writer.query(COUNT)[0][0] == 2


def test_a_new_certificate_below_the_older_one_is_used_and_recorded_once(yard: Yard) -> None:
    tile, trap = pieces()
    both = replace(tile, certificates=(*tile.certificates, newer(value=Decimal("93.4"))))
    for _ in range(3):
        begin_with(yard, both, trap)
    assert yard.writer.query(COUNT)[0][0] == 3
    yard.plug("shore")
    yard.check("shore")
    judged = "SELECT certified, certificate_id FROM piece_judgement WHERE piece = 'T1'"
    assert tuple(yard.writer.query(judged)[0]) == ("93.4", 3)


def test_the_latest_issued_is_used_though_an_older_one_is_due_later(yard: Yard) -> None:
    tile, trap = pieces()
    sooner = newer(value=Decimal("93.4"), due=date(2027, 1, 1))
    begin_with(yard, replace(tile, certificates=(*tile.certificates, sooner)), trap)
    assert [due for _, due in used_of_tile(yard)] == ["2027-01-01"]


def test_where_the_latest_is_withdrawn_the_one_before_is_used(yard: Yard) -> None:
    tile, trap = pieces()
    wrong = newer(value=Decimal("93.9"), withdrawn="of another tile")
    begin_with(yard, replace(tile, certificates=(*tile.certificates, wrong)), trap)
    assert used_of_tile(yard) == [("93.2", "2030-01-31")]


def test_one_issued_tomorrow_waits_and_the_one_that_is_valid_is_used(yard: Yard) -> None:
    tile, trap = pieces()
    tomorrow = newer(value=Decimal("93.4"), issued=date(2026, 5, 5), number="HM-2")
    begin_with(yard, replace(tile, certificates=(*tile.certificates, tomorrow)), trap)
    yard.plug("shore")
    yard.check("shore")
    judged = "SELECT certified, certificate_id FROM piece_judgement WHERE piece = 'T1'"
    assert [tuple(row) for row in yard.writer.query(judged)] == [("93.2", 1)]
    yard.clock.advance(86_400.0)
    yard.check("shore")
    assert [tuple(row) for row in yard.writer.query(judged)][1:] == [("93.4", 3)]


def test_a_recorded_one_cannot_be_left_out_behind_one_that_is_issued_only_later(
    yard: Yard,
) -> None:
    tile, trap = pieces()
    tomorrow = newer(value=Decimal("93.6"), issued=date(2026, 5, 5))
    begin_with(yard, replace(tile, certificates=(*tile.certificates, newer(), tomorrow)), trap)
    (fault,) = refused(yard, replace(tile, certificates=(*tile.certificates, tomorrow)), trap)
    assert "wanted the one of 2026-04-01 too" in fault


def used_of_tile(yard: Yard) -> list[tuple[str, str]]:
    """Value and due date of the certificate that a check of the tile says to rest on."""
    yard.plug("shore")
    yard.check("shore")
    rows = yard.writer.query(
        "SELECT c.value, c.due FROM piece_judgement AS p JOIN certificate AS c "
        "ON c.id = p.certificate_id WHERE p.piece = 'T1' AND p.certified = c.value"
    )
    return [tuple(row) for row in rows]


def test_a_new_certificate_makes_no_check_good_that_the_end_of_the_daemon_broke_off(
    yard: Yard,
) -> None:
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.clock.advance(1)
        yard.press("shore", "95.6")
    tile, trap = pieces()
    both = replace(tile, certificates=(*tile.certificates, newer(value=Decimal("95.6"))))
    begin_with(yard, both, trap)
    ((outcome,),) = yard.writer.query("SELECT outcome FROM check_judgement")
    assert outcome == "fail"
    (tile_row,) = yard.writer.query("SELECT certified, certificate_id FROM piece_judgement")
    assert tuple(tile_row) == ("93.2", 1)


def test_an_older_certificate_that_is_added_later_is_recorded_and_not_used(yard: Yard) -> None:
    tile, trap = pieces()
    old = newer(issued=date(2024, 1, 1), due=date(2026, 1, 31), value=Decimal("93.9"))
    begin_with(yard, replace(tile, certificates=(*tile.certificates, old)), trap)
    yard.plug("shore")
    yard.check("shore")
    judged = "SELECT certified FROM piece_judgement WHERE piece = 'T1'"
    assert yard.writer.query(judged)[0][0] == "93.2"


def test_a_certificate_in_use_cannot_be_left_out_to_bring_the_one_before_back(yard: Yard) -> None:
    tile, trap = pieces()
    begin_with(yard, replace(tile, certificates=(*tile.certificates, newer())), trap)
    (fault,) = refused(yard, tile, trap)
    assert fault == (
        "piece[0].certificate: got none of 2026-04-01 for gloss at 20°, wanted the one of "
        "2026-04-01 too: 93.2 gloss_unit ± 0.3 with k = 2, due 2031-04-01, by Harbour Metrology"
    )


def test_an_earlier_certificate_may_be_left_out_and_stays_recorded(yard: Yard) -> None:
    tile, trap = pieces()
    begin_with(yard, replace(tile, certificates=(*tile.certificates, newer())), trap)
    begin_with(yard, replace(tile, certificates=(newer(),)), trap)
    with StoreReader(yard.bench.store) as reader:
        own = Kept(reader).certificates("T1")
    assert [str(kept.certificate.issued) for kept in own] == ["2026-01-31", "2026-04-01"]


def test_one_entered_wrongly_is_withdrawn_and_the_right_one_stands_below(yard: Yard) -> None:
    tile, trap = pieces()
    (wrong,) = tile.certificates
    right = replace(wrong, value=Decimal("92.3"))
    withdrawn = replace(wrong, withdrawn="digits swapped")
    for _ in range(2):
        begin_with(yard, replace(tile, certificates=(withdrawn, right)), trap)
    rows = yard.writer.query("SELECT value, withdrawn FROM certificate WHERE piece = 'T1'")
    assert [tuple(row) for row in rows] == [
        ("93.2", None),
        ("93.2", "digits swapped"),
        ("92.3", None),
    ]
    # Nor can the withdrawn one be edited now, nor the right one.
    assert refused(yard, *tile_and_trap(value=Decimal("91.1")))
    edited = replace(right, value=Decimal("92.4"))
    assert refused(yard, replace(tile, certificates=(withdrawn, edited)), trap)


def test_number_and_file_may_come_later_and_then_never_change(yard: Yard, tmp_path: Path) -> None:
    file = with_file(tmp_path, b"%PDF invented")
    begin_with(yard, *tile_and_trap(number="HM-7", **file))
    # What was recorded is not forgotten where the file says it no longer.
    begin_with(yard, *tile_and_trap())
    rows = yard.writer.query("SELECT number, file_id FROM certificate WHERE piece = 'T1'")
    assert [tuple(row) for row in rows][:2] == [(None, None), ("HM-7", 1)]
    assert len(rows) == 2
    (fault,) = refused(yard, *tile_and_trap(number="HM-8"))
    assert fault.startswith("piece[0].certificate[0].number: got 'HM-8', wanted 'HM-7'")


def test_a_file_with_other_bytes_under_the_same_entry_is_refused(
    yard: Yard, tmp_path: Path
) -> None:
    first = b"%PDF invented"
    begin_with(yard, *tile_and_trap(**with_file(tmp_path, first)))
    (fault,) = refused(yard, *tile_and_trap(**with_file(tmp_path, b"%PDF other")))
    assert fault.startswith(
        "piece[0].certificate[0].file: got 'T1.pdf' with the SHA-256 "
        f"{sha256(b'%PDF other').hexdigest()[:16]}..., wanted the file with the SHA-256 "
        f"{sha256(first).hexdigest()[:16]}..., as it is kept"
    )
    # The same bytes under another name are the same file.
    begin_with(yard, *tile_and_trap(**with_file(tmp_path, first, "moved.pdf")))


def test_the_bytes_of_a_file_are_kept_once_whatever_certificates_name_it(
    yard: Yard, tmp_path: Path
) -> None:
    data = bytes(range(256)) * 10
    file: Any = with_file(tmp_path, data)["file"]
    tile, trap = tile_and_trap(file=file)
    begin_with(yard, tile, replace(trap, certificates=(replace(trap.certificates[0], file=file),)))
    assert yard.writer.query("SELECT count(*) FROM certificate_file")[0][0] == 1
    with StoreReader(yard.bench.store) as reader:
        kept = Kept(reader)
        ids = {one.file_id for p in ("T1", "Z0") for one in kept.certificates(p)} - {None}
        assert [kept.bytes_of(number) for number in ids if number is not None] == [data]
        assert verify(reader).misfit is None


def test_a_file_that_changed_after_the_bench_file_was_read_is_refused(
    yard: Yard, tmp_path: Path
) -> None:
    own = tile_and_trap(**with_file(tmp_path, b"%PDF invented"))
    (tmp_path / "T1.pdf").write_bytes(b"%PDF other")
    with pytest.raises(SettingsError, match="other bytes than a moment before"):
        begin_with(yard, *own)


def test_a_piece_of_another_kind_is_another_piece(yard: Yard) -> None:
    tile, trap = pieces()
    (fault,) = refused(yard, replace(tile, kind=trap.kind), trap)
    assert fault == (
        "piece[0].kind: got 'black-trap', wanted 'gloss-tile', as it was recorded; another piece "
        "has another id"
    )


def test_what_a_piece_is_goes_in_when_it_changes_and_another_identity_is_told(yard: Yard) -> None:
    tile, trap = pieces()
    known = replace(tile, serial="HT 1", nominal=Nominal(refractive_index=Decimal("1.54")))
    for own in (known, known, replace(known, serial="HT 2")):
        begin_with(yard, own, trap)
    rows = yard.writer.query("SELECT serial, nominal FROM piece WHERE piece = 'T1' ORDER BY id")
    nominal = '{"refractive_index": "1.54"}'
    assert [tuple(row) for row in rows] == [("", "{}"), ("HT 1", nominal), ("HT 2", nominal)]
    (incident,) = yard.writer.query("SELECT kind, message FROM incident")
    assert incident["kind"] == "other reference piece"
    assert incident["message"].startswith("reference piece T1 bears HT 2 now, and bore HT 1 before")


def test_at_the_start_it_is_told_what_is_due_and_what_is_not_plausible(yard: Yard) -> None:
    tile, trap = pieces(due=date(2026, 5, 20))
    odd = replace(tile, nominal=Nominal(refractive_index=Decimal("1.567")))
    lines = register_lines(replace(yard.bench, pieces=(odd, trap)), date(2026, 5, 4))
    assert [line.split(" says ")[0] for line in lines] == [
        "not plausible: the certificate of T1 at 20°",
        "certificate of T1 at 20° due soon: 16 days left, 2026-05-20",
        "certificate of Z0 at 20° due soon: 16 days left, 2026-05-20",
    ]
    assert register_lines(yard.bench, date(2026, 5, 4)) == []


def test_the_status_has_what_is_due_behind_the_checks_of_each_instrument(tmp_path: Path) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 20))
    (shore, _) = status(yard.desk, yard.clock.now())["instruments"]  # type: ignore[misc]
    assert [due["words"] for due in shore["certificates"]] == [
        "certificate of T1 at 20° due soon: 16 days left, 2026-05-20",
        "certificate of Z0 at 20° due soon: 16 days left, 2026-05-20",
    ]
    yard.close()


def test_a_wrong_number_is_withdrawn_too_and_each_row_goes_in_once(yard: Yard) -> None:
    begin_with(yard, *tile_and_trap(number="HM-7"))
    tile, trap = tile_and_trap(number="HM-7", withdrawn="the number of another tile")
    right = replace(tile.certificates[0], number="HM-8", withdrawn="")
    for _ in range(3):
        begin_with(yard, replace(tile, certificates=(*tile.certificates, right)), trap)
    rows = yard.writer.query("SELECT number FROM certificate WHERE piece = 'T1' ORDER BY id")
    assert [row["number"] for row in rows] == [None, "HM-7", "HM-7", "HM-8"]


def test_a_certificate_of_another_angle_with_the_old_figures_covers_no_edited_one(
    yard: Yard,
) -> None:
    tile, trap = pieces()
    at_60 = replace(tile.certificates[0], channel="60")
    begin_with(yard, replace(tile, certificates=(*tile.certificates, at_60)), trap)
    edited = replace(tile.certificates[0], value=Decimal("93.9"))
    (fault,) = refused(yard, replace(tile, certificates=(edited, at_60)), trap)
    assert fault.startswith("piece[0].certificate[0].value: got 93.9")


def test_of_several_of_one_day_the_fault_is_told_by_the_one_that_is_most_like_it(
    yard: Yard,
) -> None:
    tile, trap = tile_and_trap(number="HM-7")
    begin_with(yard, tile, trap)
    gone = replace(tile.certificates[0], withdrawn="of another tile")
    right = replace(tile.certificates[0], value=Decimal("97.2"), number="HM-9")
    begin_with(yard, replace(tile, certificates=(gone, right)), trap)
    (fault,) = refused(yard, *tile_and_trap(number="HM-8"))
    assert fault.startswith("piece[0].certificate[0].number: got 'HM-8'")
