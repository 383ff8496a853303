"""The page: whole, alone, safe, the same each time, and honest about what it leaves out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from acquire.errors import Misuse, NotFound
from acquire.model import NoticeKind
from acquire.report import write_report
from acquire.report.sections.drawings import MOST_STRIPS
from acquire.report.terminal.summary import lines_of
from acquire.store import rows as r
from tests.unit.reported import (
    STAGES,
    ManyAngles,
    full,
    page,
    plan_text,
    read_stage,
    small,
)
from tests.yard import Yard

TWO = {"none": "Untreated", "x": "Slipway wax"}
TWO_ZONES = {"A1": "none", "A2": "x"}

# Every element that our own templates and drawings use.
TAGS = {
    "a", "b", "body", "circle", "code", "dd", "defs", "details", "div", "dl", "dt", "em",
    "figcaption", "figure", "g", "h1", "h2", "h3", "h4", "head", "header", "html", "li", "main",
    "meta", "nav", "ol", "p", "path", "pre", "section", "small", "span", "strong", "style",
    "summary", "svg", "table", "tbody", "td", "text", "tfoot", "th", "thead", "title", "tr",
    "ul", "use",
}  # fmt: skip

OUTSIDE = re.compile(r"https?:|//[a-z]|@import|url\((?!#)|<script|<link|<img|<iframe|javascript:")


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of the full story, as text."""
    folder = tmp_path_factory.mktemp("story")
    yard = full(folder)
    try:
        out = write_report(yard.bench.store, "gelcoat-1", folder / "report.html")
    finally:
        yard.close()
    return out.read_text(encoding="utf-8")


def test_the_page_refers_to_nothing_outside_itself_and_forbids_it(story: str) -> None:
    assert OUTSIDE.findall(story) == []
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', story)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'; style-src 'unsafe-inline'")
    targets = set(re.findall(r'href="([^"]+)"', story))
    assert all(t.startswith("#") for t in targets)
    ids = re.findall(r'\bid="([^"]+)"', story)
    assert len(ids) == len(set(ids))
    assert {t[1:] for t in targets} <= set(ids)


def test_the_same_store_gives_the_same_bytes(tmp_path: Path) -> None:
    yard = full(tmp_path)
    store = yard.bench.store
    first = write_report(store, "gelcoat-1", tmp_path / "first.html").read_bytes()
    second = write_report(store, "gelcoat-1", tmp_path / "second.html").read_bytes()
    yard.close()
    assert first == second


def test_suspects_voids_and_loose_readings_are_named_with_their_reasons(tmp_path: Path) -> None:
    yard = full(tmp_path)
    found = page(yard, "gelcoat-1", tmp_path)
    stored = yard.readings()
    yard.close()
    suspects = [str(s["reading_id"]) for s in stored if s["bracket"] == "suspect"]
    assert len(suspects) == 10
    listed = {row[0]: row for row in found.rows if len(row) == 5}
    assert all(
        listed[number][4] == "check 5 after it found the meter outside its limit"
        for number in suspects
    )
    (void,) = [str(s["reading_id"]) for s in stored if s["void_reason"]]
    assert listed[void][2:] == [
        "zone A3, bare, reading 1", "71.4 GU at 20°", "meter rocked on the edge"
    ]  # fmt: skip
    loose = [s for s in stored if s["role"] == "loose"]
    assert [listed[str(s["reading_id"])][4] for s in loose] == [
        "no run is open for this instrument",
        "echo",
    ]
    assert "10 suspect readings are left out of the results" in found.text
    assert "Suspect readings are left out by default" in found.text
    assert "1 reading of the zones was taken out by a person, with a reason (void)." in found.text
    assert f"void {void} (71.4)" in found.text
    assert f"suspect {suspects[0]}–{suspects[4]}" in found.text


def test_left_out_readings_are_in_no_figure(tmp_path: Path) -> None:
    yard = small(tmp_path)
    before = page(yard, "small", tmp_path).row("Brine Shield")
    with_void = yard.readings("zone = 'A2' AND stage = 'cured'")[0]["reading_id"]
    assert isinstance(with_void, int)
    yard.act(lambda at: yard.acts.readings.void(with_void, "a hair under the meter", at))
    after = page(yard, "small", tmp_path)
    yard.close()
    assert before[2] == "+3.20"
    assert after.row("Brine Shield")[2] == "+3.25"
    (row,) = [row for row in after.rows if row[:3] == ["A2", "Brine Shield", "2 of 3"]]
    assert row[3] == "84.15"


def test_hostile_names_are_text_and_nothing_else(tmp_path: Path) -> None:
    names = {
        "none": '<script>alert("x")</script>',
        "q": "\"quotes\" & 'single' </svg></style></title><b onclick=x>",
        "e": "🚤" * 100,
        "l": "x" * 200,
        "m": "$\\frac{a}{b}$ {{ 7*7 }} {% raw %} tx0tx #010104",
        "z": "船底塗料 محاري",
    }
    title = '<img src=x onerror=alert(1)> "title" 🚤'
    text = plan_text(
        names, {f"Z{k}": n for k, n in enumerate(names)}, stages=("bare", "cured"), replicates=2,
        title=title,
    )  # fmt: skip
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage, step in (("bare", 0.0), ("cured", 0.7)):
        values = [(f"{80 + k * step:.1f}", f"{80.1 + k * step:.1f}") for k in range(len(names))]
        read_stage(yard, stage, text, values)
    number = yard.readings("role = 'run'")[3]["reading_id"]
    assert isinstance(number, int)
    reason = '</td><b onmouseover="x">slip</b>'
    yard.act(lambda at: yard.acts.readings.void(number, reason, at))
    out = write_report(yard.bench.store, "gelcoat-1", tmp_path / "report.html")
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    # No name made an element of its own.
    assert {tag for tag, _ in found.tags} <= TAGS
    assert not [a for _, attributes in found.tags for a in attributes if a.startswith("on")]
    for name in (*names.values(), title):
        assert name in "".join(found.texts)
    assert [row[4] for row in found.rows if row[0] == str(number) and len(row) == 5] == [reason]
    assert out.read_text(encoding="utf-8").count("<script") == 0


def test_an_unchecked_trial_says_so_at_the_top_and_in_every_section(tmp_path: Path) -> None:
    text = plan_text(TWO, TWO_ZONES, stages=("bare", "cured"), replicates=2,
                     head="unchecked = true")  # fmt: skip
    yard = Yard(tmp_path)
    yard.plug("shore")
    for stage in ("bare", "cured"):
        read_stage(yard, stage, text, [("80.1", "80.2"), ("81.1", "81.2")])
    out = write_report(yard.bench.store, "gelcoat-1", tmp_path / "report.html")
    yard.close()
    html = out.read_text(encoding="utf-8")
    assert html.index("<strong>Unchecked trial.</strong>") < html.index("<main>")
    sections = html.split("<section ")[1:]
    assert len(sections) == 11
    assert all("unchecked trial</span></h2>" in s for s in sections)
    assert "8 of them without a valid check." in html


def test_a_checked_trial_bears_no_such_warning(story: str) -> None:
    assert "unchecked" not in story.lower().split("<main>")[1].split('id="provenance"')[0]


def test_a_trial_that_is_not_there_is_answered_with_those_that_are(tmp_path: Path) -> None:
    yard = small(tmp_path)
    with pytest.raises(NotFound) as fault:
        write_report(yard.bench.store, "Small", tmp_path / "report.html")
    yard.close()
    assert fault.value.wanted == "small"
    assert not (tmp_path / "report.html").exists()


def test_a_store_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="there is no store"):
        write_report(tmp_path / "none.sqlite", "small", tmp_path / "report.html")


def test_the_page_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    yard = small(tmp_path)
    store = yard.bench.store
    out = tmp_path / "pages"
    out.mkdir()
    with pytest.raises(Misuse, match="cannot be written") as fault:
        write_report(store, "small", out)
    assert "--out" in fault.value.next_step
    with pytest.raises(Misuse):
        write_report(store, "small", tmp_path / "absent" / "report.html")
    old = out / "report.html"
    old.write_text("<!doctype html>of yesterday")
    with old.open() as held:
        assert write_report(store, "small", old) == old
        # The old page was put aside whole, never written over.
        assert held.read() == "<!doctype html>of yesterday"
    yard.close()
    assert old.read_text(encoding="utf-8").endswith("</html>\n")
    assert [p.name for p in out.iterdir()] == ["report.html"]
    assert not list(tmp_path.glob(".*.part"))


def test_a_trial_with_only_the_bare_stage_is_described_and_not_judged(tmp_path: Path) -> None:
    text = plan_text(TWO, TWO_ZONES, stages=("bare",), replicates=2)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", text, [("80.1", "80.2"), ("80.4", "80.5")])
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "Only the stage bare is planned for it" in found.text
    assert found.row("A2", "Slipway wax")[2:4] == ["2", "80.45"]


def test_a_measure_of_a_later_stage_alone_is_described_and_not_judged(tmp_path: Path) -> None:
    three = {**TWO, "y": "Quay oil"}
    text = plan_text(three, {**TWO_ZONES, "A3": "y"}, replicates=2).replace(
        "replicates = 2", f'replicates = 2\nstages = ["{STAGES[1]}"]'
    )
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, STAGES[1], text, [("80.1", "80.2"), ("80.4", "80.5"), ("80.3", "80.3")])
    found = page(yard, "gelcoat-1", tmp_path)
    lines = lines_of(yard.bench.store, "gelcoat-1")
    yard.close()
    said = f"Only the stage {STAGES[1]} is planned for it, and not {STAGES[0]}"
    assert sum(said in line for line in lines) == 1
    assert said in found.text
    assert "no decision" not in found.text
    assert f"read zone A1 at {STAGES[0]}" not in found.text
    assert found.row("A2", "Slipway wax")[2:4] == ["2", "80.45"]


def test_a_zone_whose_readings_are_all_void_is_not_called_unread(tmp_path: Path) -> None:
    text = plan_text(TWO, TWO_ZONES, replicates=2)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage in STAGES[:2]:
        read_stage(yard, stage, text, [("80.1", "80.2"), ("80.4", "80.5")])
    for reading in yard.readings(f"zone = 'A2' AND stage = '{STAGES[1]}'"):
        number = int(str(reading["reading_id"]))
        yard.act(lambda at, n=number: yard.acts.readings.void(n, "smeared", at))  # type: ignore[misc]
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert f"zone A2 of Slipway wax has no reading that counts at {STAGES[1]}" in found.text
    assert "was not read" not in found.text


def test_a_stage_of_which_no_reading_counts_is_not_called_unread(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    text = plan_text(TWO, TWO_ZONES, replicates=2)
    read_stage(yard, "bare", text, [("80.1", "80.2"), ("80.4", "80.5")])
    yard.check("shore", tile="95.6")
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "bare (no reading counts)" in found.text
    assert f"{STAGES[1]} (not read)" in found.text


def test_what_is_not_read_yet_is_said_and_not_judged(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=plan_text(TWO, TWO_ZONES, replicates=2))
    empty = page(yard, "gelcoat-1", tmp_path)
    assert "No reading has been taken yet: there are no results." in empty.text
    assert "No uncertainty can be stated yet." in empty.text
    for value in ("80.1", "80.2", "80.4"):
        yard.clock.advance(1)
        yard.press("shore", value)
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "Only bare has readings that count so far" in found.text
    assert "Not read yet: applied, wash-5." in found.text
    assert "3 of 12 planned readings count." in found.text
    assert "Open: 3 readings" in found.text


def test_a_trial_of_one_zone_has_nothing_to_compare(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    text = plan_text({"none": "Untreated"}, {"A1": "none"}, replicates=1)
    for k, stage in enumerate(STAGES):
        read_stage(yard, stage, text, [(f"80.{k}",)])
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "The plan has no treatment besides the control" in found.text


def test_geometries_never_mix(tmp_path: Path) -> None:
    text = plan_text(TWO, TWO_ZONES, channel="[20, 60]", stages=("bare", "cured"), replicates=2)
    yard = ManyAngles(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage, gain in (("bare", 0.0), ("cured", 3.0)):
        yard.begin(stage, text=text)
        for zone in (0, 1):
            for shift in (0.0, 0.2):
                for angle, base in (("20", 80.0), ("60", 92.0)):
                    value = base + shift + zone * gain * (1 if angle == "20" else -1)
                    yard.clock.advance(1)
                    yard.press("shore", f"{value:.1f}", channel=angle)
        yard.act(lambda at: yard.acts.runs.finish("", at))
        yard.check("shore")
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    rows = [row for row in found.rows if row[:1] == ["A2"]]
    assert [float(row[3]) for row in rows] == [80.1, 83.1, 92.1, 89.1]
    nets = [row[1:3] for row in found.rows if row[:1] == ["Slipway wax"] and len(row) == 11]
    assert nets == [["▲ better", "+3.0"], ["▼ worse", "−3.0"]]
    headings = [found.texts[k] for k, t in enumerate(found.texts) if t.endswith("°: figures")]
    assert headings == ["Gloss at 20°: figures", "Gloss at 60°: figures"]


def test_every_bracket_is_explained_in_a_sentence(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, replicates=2)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", text, [("80.1", "80.2"), ("80.4", "80.5")])
    yard.check("shore", tile="94.1")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    read_stage(yard, "applied", text, [("80.1", "80.2"), ("80.4", "80.5")])
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "Not closed: 4 readings (number 5–8) taken after check 1 passed; the meter" in found.text
    assert "Open: 4 readings (number 17–20) taken after check 3 passed;" in found.text
    assert "it was re-adjusted by its own button" in found.text


def test_a_loose_reading_that_was_given_its_place_is_named_with_the_reason(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, replicates=2)
    yard.plug("shore")
    yard.check("shore")
    yard.press("shore", "80.0")
    loose = yard.readings()[-1]["reading_id"]
    assert isinstance(loose, int)
    yard.begin("bare", text=text)
    yard.act(
        lambda at: yard.acts.readings.assign(
            loose, "gelcoat-1", None, "A2", "bare", 1, "pressed too early", at
        )
    )
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    (row,) = [row for row in found.rows if row[:1] == [str(loose)] and len(row) == 5]
    assert row[2:] == ["zone A2, bare, reading 1", "80.0 GU at 20°", "pressed too early"]
    assert "1 of 12 planned readings counts." in found.text
    assert "1 of those that count was given its place by a person, with a reason." in found.text


def test_troubles_gaps_and_notes_stand_with_their_words(tmp_path: Path) -> None:
    yard = small(tmp_path)
    now = yard.clock.now().utc_ns
    yard.store(
        [
            r.IncidentRow(1, now, "shore", "link lost", "the cable was pulled; plug it in"),
            r.IncidentRow(2, now, "deck", "link lost", "not an instrument of this trial"),
            r.GapRow(1, "shore", now, now + 5, 12),
            r.NoiseRow(1, 1, now, b"??", 0, 2, "no line of the profile"),
            r.NoteRow(1, now, 1, "small", "cured", "sun on the bench"),
            r.NoteRow(2, now, 1, "other", "", "of another trial"),
        ]
    )
    found = page(yard, "small", tmp_path)
    yard.close()
    assert "the cable was pulled; plug it in" in found.text
    assert "12 bytes arrived and could not be recorded" in found.text
    assert "shore sent 1 stretch of bytes that were no reading." in found.text
    assert "cured sun on the bench" in found.text
    assert "not an instrument of this trial" not in found.text
    assert "of another trial" not in found.text


def test_the_plan_stands_as_written_with_its_digest_and_earlier_versions(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    first = plan_text(TWO, TWO_ZONES, replicates=1)
    read_stage(yard, "bare", first, [("80.1",), ("80.4",)])
    second = plan_text(TWO, TWO_ZONES, replicates=2) + "\n# one more, see http://marina.example\n"
    yard.begin("bare", text=second)
    found = page(yard, "gelcoat-1", tmp_path)
    digests = [row["digest"] for row in yard.writer.query("SELECT digest FROM trial ORDER BY id")]
    yard.close()
    assert len(digests) == 2
    assert all(d in found.text for d in digests)
    assert second in "".join(found.texts)
    assert first not in "".join(found.texts)


def test_a_change_of_plan_leaves_no_reading_unmentioned(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    three = {**TWO_ZONES, "A3": "x"}
    read_stage(yard, "bare", plan_text(TWO, three, replicates=1), [("80.1",), ("80.4",), ("80.6",)])
    number = yard.readings("zone = 'A3'")[0]["reading_id"]
    assert isinstance(number, int)
    yard.act(lambda at: yard.acts.readings.void(number, "not this zone", at))
    yard.begin("bare", text=plan_text(TWO, TWO_ZONES, replicates=2))
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert found.row(str(number), "2026-05-04 08:00:11", "zone A3, bare, reading 1")
    assert not [row for row in found.rows if row[:1] == ["A3"]]


def test_many_zones_are_drawn_in_portions(tmp_path: Path) -> None:
    zones = {f"Z{k}": "x" if k else "none" for k in range(MOST_STRIPS + 5)}
    text = plan_text(TWO, zones, stages=("bare",), replicates=1)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", text, [(f"{80 + k % 7}.{k % 10}",) for k in range(len(zones))])
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert f"bare, Z0 to Z{MOST_STRIPS - 1}" in found.text
    assert f"bare, Z{MOST_STRIPS} to Z{MOST_STRIPS + 4}" in found.text


def test_times_are_utc_and_say_so(story: str) -> None:
    assert "4 May 2026, 08:00 to 5 May 2026, 08:12 UTC (boatyard)" in story
    assert "Time (UTC)" in story
    assert "All times are UTC." in story


def test_cautions_and_the_reach_of_the_results_are_said(story: str) -> None:
    assert "read the safety data sheet first" in story
    assert "Results describe the tested specimens under the tested conditions." in story


def test_a_check_that_was_broken_off_lists_the_readings_taken_in_it(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.4")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    found = page(yard, "small", tmp_path)
    stored = yard.readings("role = 'check' AND check_id = 4")
    yard.close()
    assert len(stored) == 1
    (broken,) = [row[0] for row in found.rows if row and row[0].startswith("Check 4, ")]
    assert "abandoned, undecided" in broken
    assert "The check was abandoned: by the person at the bench." in broken
    assert f"Taken in it (number {stored[0]['reading_id']}): T1 at 20°: 93.4 GU." in broken
    (begun,) = [row[0] for row in found.rows if row and row[0].startswith("Check 5, ")]
    assert "It was not finished when this page was made. No reading was taken in it." in begun
    assert "pened no run" not in found.text


def test_a_passed_check_lists_every_reading_too(tmp_path: Path) -> None:
    yard = small(tmp_path)
    found = page(yard, "small", tmp_path)
    yard.close()
    (first,) = [row[0] for row in found.rows if row and row[0].startswith("Check 1, ")]
    assert "Taken in it (number 1–4): T1 at 20°: 93.2, 93.2 GU; Z0 at 20°: 0.0, 0.0 GU." in first


def test_a_void_among_suspects_counts_as_void_alone_everywhere(tmp_path: Path) -> None:
    yard = full(tmp_path)
    suspects = [s["reading_id"] for s in yard.readings("bracket = 'suspect'")]
    first = suspects[0]
    assert isinstance(first, int)
    yard.act(lambda at: yard.acts.readings.void(first, "the boat moved", at))
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "9 suspect readings are left out of the results" in found.text
    assert (
        "2 readings of the zones were taken out by a person, with a reason (void); 1 of them would "
        "be suspect too and is not counted as such."
    ) in found.text
    said = re.findall(r"Suspect: (\d+) readings? \(number", found.text)
    assert sum(int(n) for n in said) == 9
    assert (
        sum(
            1
            for row in found.rows
            if row[-1:] == ["check 5 after it found the meter outside its limit"]
        )
        == 9
    )
    assert f"Void: 1 reading (number {first}) taken out by a person" in found.text
    assert "counts as a void alone" in found.text


def test_intervals_and_decisions_may_break_so_that_the_wide_table_fits(story: str) -> None:
    # 1200 px leave 937 px beside the contents; an interval in one line took the table beyond.
    # Two stages of five treatments, their best one against four others, and ten pairs.
    assert len(re.findall(r'<td class="n range">', story)) == 38
    assert "td.range{white-space:normal" in story
    assert not re.search(r"td\.decision\{[^}]*nowrap", story)
