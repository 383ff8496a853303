"""Figures as files: the page's drawings in the size asked for, the same bytes each time."""

from __future__ import annotations

import io
import re
from html import escape
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib import image
from numpy.typing import NDArray

from acquire.errors import Misuse
from acquire.report.figures.collected import Figure, figures_of
from acquire.report.figures.files import write_figures
from acquire.report.figures.raster import dots_of, painted
from acquire.report.figures.standalone import HEAD, size_of, standalone, titled
from acquire.report.markdown.tree import page_tree
from acquire.report.page import render
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import PIXEL_MM, SCREEN, Paper
from acquire.report.plots.timeline import Timeline
from acquire.report.record.loading import load_trial
from tests.unit.reported import full, small

_SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def figures(tmp_path_factory: pytest.TempPathFactory) -> list[Figure]:
    """All figures of the full story, for a paper 120 mm wide and 60 mm high."""
    folder = tmp_path_factory.mktemp("story")
    yard = full(folder)
    try:
        record = load_trial(yard.bench.store, "gelcoat-1")
    finally:
        yard.close()
    return figures_of(page_tree(render(record, Paper.of_mm(120, 60))))


def _root(figure: Figure) -> ElementTree.Element:
    return ElementTree.fromstring(standalone(figure.svg).encode())


def _dots(svg: str, dpi: int) -> NDArray[np.float64]:
    return np.asarray(image.imread(io.BytesIO(painted(svg, dpi)), format="png"))[:, :, :3]


def test_every_figure_is_as_wide_as_asked_and_no_higher(figures: list[Figure]) -> None:
    assert len(figures) > 8
    for figure in figures:
        root = _root(figure)
        assert root.attrib["width"] == "120.00mm"
        assert float(root.attrib["height"].removesuffix("mm")) <= 60.005


def test_no_text_is_smaller_than_seven_points_on_any_paper(figures: list[Figure]) -> None:
    for figure in figures:
        sizes = re.findall(r'font-size[:=]\s*"?([\d.]+)', figure.svg)
        assert sizes
        points = min(map(float, sizes)) * PIXEL_MM * 72 / 25.4
        assert points >= 7


def test_a_file_stands_alone_with_its_title_and_its_marks(figures: list[Figure]) -> None:
    root = _root(figures[0])
    title = root.find(f"{_SVG}title")
    assert title is not None
    assert title.text == "Net changes at applied: Gloss at 20°"
    ids = {element.attrib["id"] for element in root.iter() if "id" in element.attrib}
    used = {
        element.attrib["{http://www.w3.org/1999/xlink}href"] for element in root.iter(f"{_SVG}use")
    }
    assert used == {f"#{one}" for one in ids}
    assert not re.search(r"\d{4}-\d\d-\d\dT|date|Matplotlib", standalone(figures[0].svg))


def test_a_figure_of_its_own_has_its_title_above_it_and_is_no_higher_for_it(
    figures: list[Figure],
) -> None:
    for figure in figures:
        plain, whole = size_of(figure.svg), size_of(titled(figure.svg))
        assert whole.width == plain.width
        assert whole.top < 0
        assert whole.height == plain.height - whole.top
        assert -whole.top <= HEAD
        root = ElementTree.fromstring(standalone(titled(figure.svg)))
        assert root.attrib["viewBox"].split()[1] == f"{whole.top:g}"
        # The title is the first text, above all of the drawing.
        text = next(root.iter(f"{_SVG}text"))
        title = root.findtext(f"{_SVG}title")
        assert title is not None
        assert title.startswith((text.text or "").removesuffix(" ..."))
        assert whole.top < float(text.attrib["y"]) < 0
    dots = _dots(titled(figures[0].svg), 100)
    ink = (dots.min(axis=2) < 0.5).sum(axis=1)
    head = round(-size_of(titled(figures[0].svg)).top * PIXEL_MM / 25.4 * 100)
    assert ink[2:head].sum() > 20  # the title is painted


def test_a_title_of_ten_thousand_signs_is_cut_and_stays_text() -> None:
    name = "x & <b>" + "y" * 10_000
    svg = f'<svg viewBox="0 0 400 100" role="img" aria-label="{escape(name)}"></svg>'
    found = titled(svg)
    assert size_of(found).height <= 100 + HEAD
    root = ElementTree.fromstring(standalone(found))
    texts = [text.text for text in root.iter(f"{_SVG}text")]
    assert texts[0] == "x & <b>yyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyy"[:52]
    assert len(texts) <= 2


def test_a_picture_has_the_dots_asked_for_and_what_the_drawing_has(figures: list[Figure]) -> None:
    figure = next(f for f in figures if "T1" in f.caption and "shore" in f.caption)
    width, height = dots_of(figure.svg, 100)
    assert width == round(120 / 25.4 * 100)
    found = _dots(figure.svg, 100)
    assert found.shape[:2] == (height, width)
    for ink in (Ink.TREATED, Ink.BAND, Ink.PAPER):
        colour = [int(ink.on_paper[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        assert (np.abs(found - colour).max(axis=2) < 0.02).sum() > 30, ink
    assert painted(figure.svg, 100) == painted(figure.svg, 100)


@pytest.mark.parametrize(
    ("d", "where"),
    [
        ("M10 10H30V30H10Z", (20, 20)),
        ("M10 10h20v20h-20z", (20, 20)),
        ("M 10 10 L 30 10 L 30 30 L 10 30 z", (20, 20)),
        ("M10 10l20 0 0 20-20 0z", (20, 20)),
        ("M 10 20 C 10 6.7 30 6.7 30 20 C 30 33.3 10 33.3 10 20 z", (20, 20)),
        ("M60 60m-50-50h20v20h-20z", (20, 20)),
    ],
)
def test_paths_are_painted_where_they_lie(d: str, where: tuple[int, int]) -> None:
    svg = f'<svg viewBox="0 0 40 40" role="img" aria-label=""><path d="{d}" fill="#b2470d"/></svg>'
    dpi = round(25.4 / PIXEL_MM)  # a dot a pixel
    found = _dots(svg, dpi)
    assert found[where[1], where[0], 0] == pytest.approx(0xB2 / 255, abs=0.01)
    assert found[3, 3].min() > 0.98


def test_a_line_without_length_and_with_round_ends_is_a_dot() -> None:
    svg = (
        '<svg viewBox="0 0 40 40" role="img" aria-label=""><path d="M20 20h0" stroke="#0c5f86" '
        'stroke-width="9" stroke-linecap="round" fill="none"/></svg>'
    )
    assert _dots(svg, round(25.4 / PIXEL_MM))[20, 20, 2] == pytest.approx(0x86 / 255, abs=0.01)


def test_a_course_of_many_points_is_told_finer_on_paper_than_on_a_screen() -> None:
    xs = np.arange(2000.0)
    drawn = []
    for paper in (SCREEN, Paper.of_mm(170)):
        plot = Timeline(0.0, 1999.0, (-1.0, 1.0), paper=paper)
        plot.course(xs, np.sin(xs / 30))
        (course,) = re.findall(r'd="(M[^"HV]*L[^"]*)"', plot.svg("wave"))
        drawn.append(course.count("L"))
    assert drawn[0] < 200
    assert 1200 < drawn[1] < 1600


def test_a_folder_of_figures_says_what_each_shows_and_is_the_same_each_time(
    tmp_path: Path,
) -> None:
    yard = small(tmp_path)
    yard.close()
    store, paper = yard.bench.store, Paper.of_mm(90)
    one = write_figures(store, "small", tmp_path / "a", paper, ("svg", "png"), 60)
    write_figures(store, "small", tmp_path / "b", paper, ("svg",), 60)
    files = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert files == sorted(["figures.md", *(f"{f.name}.{e}" for f in one for e in ("svg", "png"))])
    for name in (name for name in files if not name.endswith("png")):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    index = (tmp_path / "a" / "figures.md").read_text("utf-8")
    assert "- ◆ mean with 95 % interval" in index.replace("├◆┤", "◆")
    assert all(f"]({figure.name}.svg)" in index for figure in one)


def test_every_figure_has_a_legend_or_the_words_before_it_and_a_name_in_whole_words(
    figures: list[Figure],
) -> None:
    for figure in figures:
        assert figure.legend is not None or figure.remark is not None, figure.name
        heading = "-".join(re.findall(r"[a-z0-9]+", figure.heading.lower()))
        assert heading in figure.name


def test_a_folder_with_other_things_and_the_stores_own_are_left_alone(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.close()
    store = yard.bench.store
    before = {path.name for path in tmp_path.iterdir()}
    with pytest.raises(Misuse, match="the store lies"):
        write_figures(store, "small", tmp_path, Paper(), ("svg",), 100)
    with pytest.raises(Misuse, match="no folder"):
        write_figures(store, "small", store, Paper(), ("svg",), 100)
    with pytest.raises(Misuse, match="million dots"):
        write_figures(store, "small", tmp_path / "x", Paper.of_mm(600), ("png",), 1200)
    left = {path.name for path in tmp_path.iterdir()} - before
    assert left <= {f"{store.name}-wal", f"{store.name}-shm"}
    assert store.stat().st_size > 0
