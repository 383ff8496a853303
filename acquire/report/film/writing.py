"""Captions and chapters of a trial for one camera or several. Reads the store; one thread."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from acquire.errors import Misuse
from acquire.model.clap import CLAP_MARK
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.film.camera import (
    Camera,
    Clap,
    camera_of_clap,
    camera_of_start,
    require_told_apart,
)
from acquire.report.film.cues import MOST_MS, Captions, captions_of, chapters_of
from acquire.report.film.forms import chapter_list, subrip, webvtt
from acquire.report.film.moments import moments_of, plain, stretches_of
from acquire.report.record.loading import Loader, load_trial
from acquire.report.record.record import TrialRecord
from acquire.store.reader import StoreReader

CAPTIONS = (".vtt", ".srt")
CHAPTERS = (".vtt", ".txt")


class Wanted(NamedTuple):
    """What was asked for: films by their start or a clap mark, their length, and files."""

    starts: Sequence[str]
    claps: Sequence[str]
    lasts_ms: int | None
    captions: Path | None
    chapters: Path | None


class Film(NamedTuple):
    """What was written for one camera; no file where no reading lies in its film."""

    camera: Camera
    captions: Captions
    files: tuple[Path, ...]


def write_film(store: Path, trial: str, wanted: Wanted, load: Loader | None = None) -> list[Film]:
    """Write the files of each camera. Loads and raises as `acquire.report.write_report`."""
    record = load(trial) if load is not None else load_trial(store, trial)
    cameras = [camera_of_start(text) for text in wanted.starts]
    claps = claps_of(store, record) if wanted.claps else []
    cameras += [camera_of_clap(text, claps) for text in wanted.claps]
    require_told_apart(cameras)
    for path, endings, what in (
        (wanted.captions, CAPTIONS, "captions"),
        (wanted.chapters, CHAPTERS, "chapters"),
    ):
        _require_form(path, endings, what)
    evidence = evidence_of(record)
    return [_film(store, record, evidence, camera, wanted) for camera in cameras]


def claps_of(store: Path, record: TrialRecord) -> list[Clap]:
    """The clap marks of a trial, in their order, with those that name none.

    A mark that names none is of one of its sittings, or was made before the sitting began.
    """
    sittings = {s.id for s in record.sittings}
    with StoreReader(store) as reader:
        rows = reader.rows(
            "SELECT id, at_utc_ns, trial, sitting_id FROM note "
            "WHERE text = ? AND trial IN (?, '') ORDER BY id",
            (CLAP_MARK, record.plan.id),
        )
    return [
        Clap(row["id"], row["at_utc_ns"])
        for row in rows
        if row["trial"] or row["sitting_id"] is None or row["sitting_id"] in sittings
    ]


def _require_form(path: Path | None, endings: Sequence[str], what: str) -> None:
    if path is not None and path.suffix.lower() not in endings:
        raise Misuse(
            f"{path} names no form of {what}",
            got=f"the ending {path.suffix!r}"[:60],
            wanted=" or ".join(endings),
            next_step="give the file one of these endings",
        )


def _film(
    store: Path,
    record: TrialRecord,
    evidence: Sequence[Evidence],
    camera: Camera,
    wanted: Wanted,
) -> Film:
    found = captions_of(moments_of(record, evidence), camera, wanted.lasts_ms)
    note = plain(f"Coatbench, trial {record.plan.id}")
    files: list[Path] = []
    if not found.inside:
        return Film(camera, found, ())
    if wanted.captions is not None:
        out = _named(wanted.captions, camera)
        is_vtt = out.suffix.lower() == ".vtt"
        text = webvtt(found.cues, note) if is_vtt else subrip(found.cues)
        files.append(_written(store, out, "vtt" if is_vtt else "srt", text))
    if wanted.chapters is not None:
        stretches = stretches_of(record, evidence)
        last_ms = max(
            [cue.end_ms for cue in found.cues]
            + [camera.film_ms(s.at_utc_ns) + 2 * MOST_MS for s in stretches],
            default=0,
        )
        title = plain(record.plan.title)
        cues = chapters_of(stretches, camera, title, wanted.lasts_ms, max(last_ms, 1))
        out = _named(wanted.chapters, camera)
        is_vtt = out.suffix.lower() == ".vtt"
        text = webvtt(cues, note) if is_vtt else chapter_list(cues)
        files.append(_written(store, out, "vtt" if is_vtt else "chapters", text))
    return Film(camera, found, tuple(files))


def _named(path: Path, camera: Camera) -> Path:
    """The file of a camera: with its name behind the file's, where it has one."""
    return path.with_stem(f"{path.stem}-{camera.name}") if camera.name else path


def _written(store: Path, out: Path, form: str, text: str) -> Path:
    require_place(out, form, store)
    with whole_file(out) as file:
        file.write(text)
    return out
