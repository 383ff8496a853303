"""Captions on the film's clock, read back by parsers that are not ours (webvtt-py, srt)."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from pathlib import Path

import pytest
import srt
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from acquire.cli.entry import run
from acquire.errors import Misuse, NotFound, Refused
from acquire.model import from_utc_ns, iso_utc
from acquire.model.clap import CLAP_MARK
from acquire.report.evidence.evidence import evidence_of
from acquire.report.film.camera import (
    Camera,
    Clap,
    camera_of_clap,
    camera_of_start,
    film_clock_ms,
    require_told_apart,
)
from acquire.report.film.cues import (
    LEAST_CHAPTER_MS,
    LEAST_MS,
    MOST_LINES,
    Cue,
    captions_of,
    chapters_of,
)
from acquire.report.film.forms import chapter_list, subrip
from acquire.report.film.forms import webvtt as as_webvtt
from acquire.report.film.moments import Moment, Stretch, moments_of, stretches_of
from acquire.report.record.loading import load_trial
from acquire.settings import parse_plan
from tests.unit.cli.test_results import with_bench
from tests.unit.report.test_frictions import SLED, TRIAL, PeakYard
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import Yard

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def filmed(tmp_path: Path) -> tuple[list[str], int, int]:
    """The small trial with a hostile name and a clap mark: bench option, its number and moment."""
    yard = Yard(tmp_path)
    text = SMALL.replace("Brine Shield", "Brine --> <i>Shield</i> & {x}")
    yard.plug("shore")
    yard.check("shore")
    yard.clock.advance(20)
    told = yard.act(lambda at: yard.acts.clap("", at))
    yard.clock.advance(10)
    for stage in ("bare", "cured"):
        read_stage(yard, stage, text, [SMALL_VALUES[z, stage] for z in ("A1", "A2")])
        yard.check("shore")
        yard.clock.advance(30)
    number = yard.writer.query("SELECT id FROM reading WHERE text = '84.0'")[0][0]
    yard.act(lambda at: yard.acts.readings.void(number, "slipped", at))
    option = with_bench(yard, tmp_path)
    yard.close()
    assert isinstance(told["note_id"], int)
    assert isinstance(told["at_utc_ns"], int)
    return option, told["note_id"], told["at_utc_ns"]


def test_each_reading_that_counts_shows_from_its_moment_on_with_means_and_verdicts(
    filmed: tuple[list[str], int, int], tmp_path: Path, capsys: Captured
) -> None:
    option, number, _ = filmed
    out, chapters = tmp_path / "film.vtt", tmp_path / "film.txt"
    line = [*option, "captions", "small", "--clap", f"{number}@00:05", "--out", str(out)]
    assert run([*line, "--chapters", str(chapters)]) == 0
    assert "11 readings in " in capsys.readouterr().out
    found = webvtt.read(str(out))
    lines = [text for cue in found for text in cue.text.split("\n")]
    assert len([text for text in lines if re.search(r": \d\d\.\d GU$", text)]) == 11
    # The clap is seen at 5 s, and the first reading came 12 s behind it.
    assert found[0].start == "00:00:17.000"
    assert found[0].text == "A1 · untreated at 20°: 80.1 GU"
    name = "Brine --&gt; &lt;i&gt;Shield&lt;/i&gt; &amp; {x}"
    (mean,) = [text for text in lines if text.startswith(f"A2 · {name} at 20°: mean")]
    assert re.search(r"mean 81\.1\d* ± 0\.\d+ GU of 3 readings$", mean)
    # One of three at cured was voided: no mean of that zone, and no voided value.
    assert not any("84.0" in text for text in lines)
    assert lines[-2] == "Gloss at 20°, cured, against the control:"
    assert re.fullmatch(rf"▲ {re.escape(name)}: better, \+3\.\d+ ± \d\.\d+ GU", lines[-1])
    told = chapters.read_text("utf-8").splitlines()
    assert told[0] == "00:00 Check of shore: pass"
    assert told[1] == "00:15 Gloss at 20°: bare"
    assert all(re.fullmatch(r"\d\d:\d\d .+", text) for text in told)


def test_subrip_says_the_same_and_readings_outside_are_counted(
    filmed: tuple[list[str], int, int], tmp_path: Path, capsys: Captured
) -> None:
    option, _, at_ns = filmed
    out = tmp_path / "film.srt"
    start = from_utc_ns(at_ns + 15 * 10**9).isoformat()
    line = [*option, "captions", "small", "--film-starts", start, "--film-lasts", "0:08"]
    assert run([*line, "--out", str(out)]) == 0
    assert "outside of the film: 2 before it, 5 after it" in capsys.readouterr().out
    found = list(srt.parse(out.read_bytes().decode()))
    assert [cue.index for cue in found] == list(range(1, len(found) + 1))
    assert found[-1].end <= timedelta(seconds=8)
    assert "A2 · Brine --› ‹i›Shield‹/i› & (x) at 20°: 81.0 GU" in "\n".join(
        c.content for c in found
    )
    none = tmp_path / "none.srt"
    assert run([*option, "captions", "small", "--film-starts", "2020-01-01T00:00:00Z",
                "--film-lasts", "10:00", "--out", str(none)]) == 1  # fmt: skip
    assert "nothing is written: no reading lies in this film" in capsys.readouterr().out
    assert not none.exists()


def test_several_cameras_have_a_file_each(
    filmed: tuple[list[str], int, int], tmp_path: Path, capsys: Captured
) -> None:
    option, number, at_ns = filmed
    line = [
        *option,
        "captions",
        "small",
        "--clap",
        f"close={number}",
        "--out",
        str(tmp_path / "f.vtt"),
    ]
    assert run([*line, "--film-starts", f"wide={iso_utc(at_ns - 10**9)}"]) == 0
    wide, close = (webvtt.read(str(tmp_path / f"f-{name}.vtt")) for name in ("wide", "close"))
    assert [c.text for c in wide] == [c.text for c in close]
    assert (wide[0].start, close[0].start) == ("00:00:13.000", "00:00:12.000")
    assert run([*line, "--clap", f"close={number}"]) == 1
    assert "cannot be told apart" in capsys.readouterr().err
    assert run([*option, "captions", "small", "--clap", "99"]) == 1
    assert f"wanted  {number}" in capsys.readouterr().err
    assert run([*option, "captions", "small"]) == 2


def _said(yard: Yard, trial: str) -> tuple[list[str], list[str]]:
    """All lines of a trial's captions, and its chapters."""
    record = load_trial(yard.bench.store, trial)
    evidence = evidence_of(record)
    lines = [m.text for m in moments_of(record, evidence)]
    return lines, [s.title for s in stretches_of(record, evidence)]


@pytest.mark.parametrize("pulls", [1, 3])
def test_a_pull_is_called_one_and_its_coefficient_is_told_even_where_a_zone_is_pulled_once(
    tmp_path: Path, pulls: int
) -> None:
    """A verdict of coefficients follows: a force alone would leave the film to guess."""
    yard = PeakYard(tmp_path)
    yard.checked("0.02", "1.98")
    text = TRIAL.replace("replicates = 3", f"replicates = {pulls}") + SLED
    plan = parse_plan(text, "trial.toml")
    yard.act(lambda at: yard.acts.runs.begin(plan, "slick", "bare", "puller", at))
    for _ in range(2 * pulls):
        yard.clock.advance(10)
        yard.pulled("0.82")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.checked("0.02", "1.98")
    yard.close()
    lines, _ = _said(yard, "peaks")
    assert lines[0] == "A · Untreated: pull of 0.82 N"
    told = [line for line in lines if "static coefficient of friction 0.4" in line]
    assert len(told) == 2
    assert all(("mean " in line) is (pulls > 1) for line in told)


def test_a_check_that_was_left_with_nothing_found_is_no_undecided_one_in_the_chapters(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore")
    yard.close()
    _, chapters = _said(yard, "small")
    assert chapters[:2] == ["Check of shore: pass", "Check of shore: broken off"]


def test_only_its_own_command_makes_a_clap_mark(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    for text in ("clap mark", " Clap  MARK 3", "clap mark: here"):
        with pytest.raises(Refused, match="not kept"):
            yard.act(lambda at, text=text: yard.acts.note(text, "", "", at))  # type: ignore[misc]
    yard.act(lambda at: yard.acts.note("the clap mark was late", "", "", at))
    yard.act(lambda at: yard.acts.clap("", at))
    with pytest.raises(NotFound):
        yard.act(lambda at: yard.acts.clap("nowhere", at))
    texts = [row[0] for row in yard.writer.query("SELECT text FROM note ORDER BY id")]
    yard.close()
    assert texts == ["the clap mark was late", CLAP_MARK]


_MOMENTS = st.lists(st.integers(-5_000, 120_000), max_size=40).map(
    lambda times: [Moment(ms * 1_000_000, 0, f"line {k}") for k, ms in enumerate(sorted(times))]
)


@given(_MOMENTS, st.one_of(st.none(), st.integers(1, 100_000)))
def test_no_cue_overlaps_none_is_too_short_and_no_line_is_lost_or_early(
    moments: list[Moment], lasts_ms: int | None
) -> None:
    found = captions_of(moments, Camera("", 0), lasts_ms)
    for one, following in zip(found.cues, found.cues[1:], strict=False):
        assert one.end_ms <= following.start_ms
    for cue in found.cues:
        assert 1 <= len(cue.lines) <= MOST_LINES
        assert cue.end_ms - cue.start_ms >= LEAST_MS or cue.end_ms == lasts_ms
        assert cue.end_ms > cue.start_ms
    lines = [line for cue in found.cues for line in cue.lines]
    inside = [m for m in moments if m.at_utc_ns >= 0]
    assert lines == [m.text for m in inside[: len(lines)]]
    starts = [cue.start_ms for cue in found.cues for _ in cue.lines]
    assert all(
        at >= m.at_utc_ns // 1_000_000 for at, m in zip(starts, inside[: len(lines)], strict=True)
    )
    assert found.inside + found.before + found.after == len(moments)
    if lasts_ms is None:
        assert found.after == 0


@given(st.lists(st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=20),
                min_size=1, max_size=4))  # fmt: skip
def test_any_line_comes_back_from_both_forms(lines: list[str]) -> None:
    said = tuple(text for line in lines if (text := " ".join(line.split())))
    if not said:
        return
    cues = [Cue(0, 1500, said), Cue(3_600_000, 3_601_500, said)]
    found = webvtt.from_string(as_webvtt(cues, "a & b --> c"))
    assert [c.start for c in found] == ["00:00:00.000", "01:00:00.000"]
    wanted = "\n".join(
        s.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") for s in said
    )
    assert [c.raw_text for c in found] == [wanted, wanted]
    blocks = list(srt.parse(io.StringIO(subrip(cues), newline="").read()))
    assert len(blocks) == 2
    assert blocks[1].start == timedelta(hours=1)
    assert len(blocks[0].content.replace("\r\n", "\n").split("\n")) == len(said)


def test_chapters_begin_at_the_films_beginning_and_are_long_enough() -> None:
    stretches = [Stretch(s * 10**9, f"at {s}") for s in (-50, 5, 20, 24, 60, 4000)]
    cues = chapters_of(stretches, Camera("", 0), "Trial", None, 4_100_000)
    assert [(c.start_ms // 1000, c.lines[0]) for c in cues] == [
        (0, "at -50; at 5"), (20, "at 20; at 24"), (60, "at 60"), (4000, "at 4000"),
    ]  # fmt: skip
    assert all(c.end_ms - c.start_ms >= LEAST_CHAPTER_MS for c in cues)
    assert chapter_list(cues).splitlines()[-1] == "1:06:40 at 4000"
    assert [c.lines[0] for c in chapters_of([], Camera("", 0), "Trial", 500, 1)] == ["Trial"]


def test_chapters_that_are_all_short_are_joined_and_the_longest_of_them_named() -> None:
    stretches = [Stretch(s * 10**9, f"at {s}") for s in (0, 4, 6, 11, 12, 19, 24)]
    cues = chapters_of(stretches, Camera("", 0), "Trial", None, 27_000)
    assert [(c.start_ms // 1000, c.lines[0]) for c in cues] == [
        (0, "at 0; at 4; at 6"), (11, "at 12; at 19; at 24; and 1 more"),
    ]  # fmt: skip


def test_a_chapter_names_all_checks_of_one_moment() -> None:
    checks = [Stretch(0, "Check of deck: pass"), Stretch(0, "Check of shore: pass")]
    (cue,) = chapters_of(checks, Camera("", 0), "Trial", None, 60_000)
    assert cue.lines == ("Check of deck: pass; Check of shore: pass",)


@pytest.mark.parametrize(
    ("text", "ms"),
    [("00:12.5", 12_500), ("1:02:03", 3_723_000), ("75", 75_000), ("3:07,25", 187_250)],
)
def test_places_of_a_film_are_read_as_players_show_them(text: str, ms: int) -> None:
    assert film_clock_ms(text) == ms


@pytest.mark.parametrize("text", ["", "1:2:3:4", "12:75", "-1", "1e9", "٣", "noon", "9" * 400])
def test_what_is_no_place_of_a_film_is_told(text: str) -> None:
    with pytest.raises(Misuse, match="not understood"):
        film_clock_ms(text)


def test_a_start_without_a_zone_and_a_mark_that_is_none_are_told() -> None:
    assert camera_of_start("2026-05-04T10:00:00.250+02:00").starts_utc_ns == (
        camera_of_start("b=2026-05-04T08:00:00.250Z").starts_utc_ns
    )
    for text in ("2026-05-04T10:00:00", "today", "", "9999-99-99T00:00:00Z", "x=" + "1" * 900):
        with pytest.raises(Misuse, match="no moment") as caught:
            camera_of_start(text)
        assert len(str(caught.value)) < 400
    claps = [Clap(3, 10**9), Clap(17, 20 * 10**9)]
    assert camera_of_clap("17@00:12.5", claps) == Camera("", int(7.5 * 10**9))
    for text in ("x", "", "17@", "@1", "1.5"):
        with pytest.raises(Misuse):
            camera_of_clap(text, claps)
    with pytest.raises(Misuse, match="told apart"):
        require_told_apart([Camera("", 0), Camera("", 1)])
