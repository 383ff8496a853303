"""The page of the drifts, and what the report of a trial says of its meters."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from acquire.drift.history import Seen
from acquire.errors import Misuse
from acquire.model import NoticeKind
from acquire.report import write_report
from acquire.report.driftpage import render_drift, write_drift_page
from acquire.report.plots.history import control_plots, trend_plot
from acquire.report.plots.timeline import COLUMNS, MOST_MARKS, Timeline
from acquire.report.sections.history import READING_AID
from tests.unit.drifting import daily, only, rising, yard_of
from tests.unit.reported import small
from tests.yard import Yard

CHARTS = ("Trend", "Individuals chart", "Moving range chart", "EWMA chart", "CUSUM chart")


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    made = yard_of(tmp_path)
    yield made
    made.close()


def seen(yard: Yard) -> Seen:
    return only(yard).seen(yard.clock.now().utc_ns)


def page(yard: Yard) -> str:
    return render_drift("bench.sqlite", [seen(yard)], yard.clock.now().utc_ns)


class Tags(HTMLParser):
    """Whether each tag that is opened is closed again, and nothing is fetched or run."""

    ALONE = frozenset({"meta", "path", "text"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [v or "" for k, v in attrs if k in ("src", "href", "xlink:href")]
        if tag not in self.ALONE:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.ALONE:
            assert self.open.pop() == tag


def test_the_page_is_whole_and_needs_nothing_else(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 30))
    text = page(yard)
    tags = Tags(text)
    assert tags.open == []
    assert all(link.startswith("#") for link in tags.links)
    assert "<script" not in text
    assert "http" not in text.replace("http-equiv", "")


def test_each_chart_is_drawn_once_there_are_checks_enough(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.02, 10))
    assert re.findall(r'aria-label="(\w[^"]*) of T1', page(yard)) == ["Trend"]
    daily(yard, rising(93.4, 0.02, 15))
    assert re.findall(r'aria-label="(\w[^"]*) of T1', page(yard)) == list(CHARTS)


def test_the_page_says_in_words_what_its_charts_show(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.03, 20))
    yard.tell("shore", NoticeKind.ADJUSTED)
    daily(yard, rising(93.2, 0.03, 18))
    text = page(yard)
    assert "T1 at 20° of shore will reach its limit about" in text
    assert "As found (last check before)" in text
    assert '<td class="n">+0.60 GU</td><td class="n">0.00 GU</td>' in text
    assert "re-adjusted 2026-05-24: 18 checks" in text


def test_each_kind_of_chart_is_explained_with_its_source(yard: Yard) -> None:
    daily(yard, ["93.2"])
    text = page(yard)
    for aid in READING_AID:
        assert aid.chart in text
        assert re.search(r"\((?:95 %, NIST|ISO 7870-\d; e-Handbook, 6\.3\.2\.\d)", aid.text)
        assert len(re.findall(r"[.;] [A-Z]|\.$", aid.text)) == 2


def test_a_page_without_any_check_says_so() -> None:
    text = render_drift("bench.sqlite", [], 0)
    assert "No check has been judged yet." in text
    assert "There are too few checks yet to say of any meter how it holds" in text
    assert "gives reason for a warning now" not in text


def test_names_that_look_like_markup_stay_names(yard: Yard) -> None:
    daily(yard, ["93.2", "93.3", "93.1"])
    found = seen(yard)
    odd = replace(
        found.history, instrument="<b>&shore", key=found.history.key._replace(piece="T<1")
    )
    text = render_drift("a&b", [odd.seen(found.outlook.now_ns)], found.outlook.now_ns)
    assert "<b>&shore" not in text
    assert "T&lt;1" in text
    assert Tags(text).open == []


def test_the_page_is_written_whole_or_not_at_all(yard: Yard, tmp_path: Path) -> None:
    daily(yard, ["93.2"])
    out = tmp_path / "drift.html"
    written = write_drift_page(yard.bench.store, [seen(yard)], yard.clock.now().utc_ns, out)
    assert written == out
    assert out.read_text("utf-8").endswith("</html>\n")
    with pytest.raises(Misuse):
        write_drift_page(yard.bench.store, [], 0, yard.bench.store)


def test_of_thousands_of_points_none_that_stands_out_is_lost() -> None:
    ys = np.zeros(5000)
    ys[3217] = 7.0
    plot = Timeline(0, 4999, [0.0, 7.0])
    plot.course(np.arange(5000.0), ys)
    drawn = plot.svg("long")
    top = round(plot.y(7.0))
    assert f" {top}L" in drawn
    assert drawn.count("L") <= 2 * COLUMNS


def test_of_thousands_of_marks_no_more_are_drawn_than_can_be_told_apart() -> None:
    plot = Timeline(0, 4999, [0.0, 1.0])
    plot.crosses(np.arange(5000.0), np.ones(5000))
    assert plot.svg("marks").count("l6 6") <= MOST_MARKS


def test_what_broke_a_rule_is_crossed_and_what_did_not_is_not(yard: Yard) -> None:
    daily(yard, rising(93.2, 0.0, 25))
    quiet = dict(control_plots(seen(yard)))
    assert all("l6 6" not in svg for svg in quiet.values())
    daily(yard, ["94.0"])
    crossed = dict(control_plots(seen(yard)))
    assert "l6 6" in crossed["Each check: individuals chart"]


def test_a_check_beyond_the_limit_is_crossed_in_the_trend(yard: Yard) -> None:
    daily(yard, ["93.2", "93.3", "93.2"])
    assert "l6 6" not in trend_plot(seen(yard))
    daily(yard, ["95.2"])
    assert "l6 6" in trend_plot(seen(yard))


def test_a_history_of_a_day_has_hours_below_its_drawing_and_one_of_weeks_has_days(
    yard: Yard,
) -> None:
    for tile in ("93.2", "93.3", "93.2"):
        yard.check("shore", tile=tile)
    assert ">05-04 08:00</text>" in trend_plot(seen(yard))
    daily(yard, rising(93.2, 0.0, 5))
    assert ">2026-05-04</text>" in trend_plot(seen(yard))


def test_the_report_of_a_trial_shows_how_its_meters_held(tmp_path: Path) -> None:
    yard = small(tmp_path)
    out = write_report(yard.bench.store, "small", tmp_path / "small.html")
    text = out.read_text("utf-8")
    section = text[text.index('<section id="drift"') :]
    section = section[: section.index("</section>")]
    assert section.count("<figure>") == 2
    assert "T1 at 20°, GU, read by shore (serial SH-0417): not known; no drift stands" in section
    assert 'aria-label="Trend of Z0 at 20°, read by shore: deviation, GU"' in section
    again = write_report(yard.bench.store, "small", tmp_path / "again.html")
    assert again.read_text("utf-8") == text
    yard.close()


def test_a_page_of_many_pieces_says_that_it_tells_the_last_bad_check_of_each_alone(
    yard: Yard,
) -> None:
    daily(yard, rising(93.2, 0.3, 6))
    yard.tell("shore", NoticeKind.ADJUSTED)
    daily(yard, rising(93.2, 0.3, 6))
    one, now_ns = seen(yard), yard.clock.now().utc_ns
    few, many = (render_drift("s", [one] * count, now_ns) for count in (1, 7))
    said = "only the last such check of each is looked for"
    assert said not in few
    assert said in many
    assert few.count("<dt>Past</dt>") == 2
    assert many.count("<dt>Past</dt>") == 7
