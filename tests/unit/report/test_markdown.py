"""The report as Markdown: it says what the page says, and names do it no harm."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from acquire.errors import Misuse
from acquire.report.markdown.tree import page_tree
from acquire.report.markdownpage import MARK, markdown_of, write_markdown
from acquire.report.page import render
from acquire.report.plots.paper import SCREEN
from acquire.report.record.loading import load_trial
from tests.unit.marked import Marked
from tests.unit.reported import full, plan_text, read_stage
from tests.yard import Yard

_SIGNS = re.compile(r"[├┤◆●○×△◎◄■┊]")
_HOSTILE = 'Wax | "A" `b` <script>alert(1)</script> & **x** 🐧 [l](http://e.example)\\ #1'


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("story")
    yard = full(folder)
    try:
        return render(load_trial(yard.bench.store, "gelcoat-1"))
    finally:
        yard.close()


def _plain(text: str) -> str:
    """Without the signs of legends, which are drawings in the page."""
    return " ".join(_SIGNS.sub(" ", text).split())


def test_every_paragraph_and_every_row_of_the_page_is_in_the_markdown(story: str) -> None:
    found = Marked(markdown_of(story, "figures")[0])
    said = {_plain(text) for text in found.texts}
    body = page_tree(story)
    paragraphs = [_plain(p.text) for p in body.all("p")]
    assert len(paragraphs) > 80
    assert [text for text in paragraphs if text not in said] == []
    items = [_plain(li.text) for li in body.all("li") if not any(li.all("ul"))]
    assert [text for text in items if text not in said] == []
    rows = [row for table in found.tables for row in table]
    cells = {tuple(cell for cell in row if cell) for row in rows}
    wanted = [
        tuple(text for cell in row.children if (text := cell.text))
        for row in body.all("tr")
        if not {"group", "remark"} & set(row.classes)
    ]
    assert len(wanted) > 200
    assert [row for row in wanted if row not in cells] == []


def test_the_answer_comes_first_and_each_group_of_rows_is_a_table(story: str) -> None:
    text, figures = markdown_of(story, "figures")
    found = Marked(text)
    headings = re.findall(r"^## (.*)$", text, re.MULTILINE)
    assert headings[:2] == ["The results in words", "The panel: which treatment is where"]
    assert text.startswith(f"{MARK}\n\nResults of trial gelcoat-1\n\n# Five protectants")
    assert all(len({len(row) for row in table}) == 1 for table in found.tables)
    assert found.pictures == [f"figures/{figure.name}.svg" for figure in figures]
    tables = [table for table in found.tables if table[0][:2] == ["Treatment", "Decision"]]
    assert [len(table) for table in tables] == [6, 6]
    (panel,) = [table for table in found.tables if table[0] == ["", "", ""]]
    assert panel[1][0] == "A1 Plover sealant"


def test_names_that_look_like_markup_stay_names(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    names = {"none": "Untreated", "x": _HOSTILE}
    text = plan_text(names, {"A1": "none", "A2": "x"}, replicates=2, title=_HOSTILE)
    yard.plug("shore")
    for stage in ("bare", "applied"):
        yard.check("shore")
        read_stage(yard, stage, text, [("80.1", "80.2"), ("80.4", "80.5")])
    yard.check("shore")
    yard.act(lambda at: yard.acts.note(f"{_HOSTILE}\n\n# heading", "gelcoat-1", "", at))
    store = yard.bench.store
    yard.close()
    out = tmp_path / "a [b] (c).md"
    folder = write_markdown(store, "gelcoat-1", out, SCREEN)
    written = out.read_text("utf-8")
    found = Marked(written)
    assert not found.kinds & {"html_block", "html_inline", "link_open"}
    assert f"{_HOSTILE}" in found.texts
    assert all(len({len(row) for row in table}) == 1 for table in found.tables)
    assert [row[0] for t in found.tables for row in t if row[0] == _HOSTILE]
    assert all(re.fullmatch(r"[a-z0-9-]+\.svg", path.name) for path in folder.iterdir())
    assert {path.split("/")[-1] for path in found.pictures} == {p.name for p in folder.iterdir()}
    assert all(path.startswith("a%20%5Bb%5D%20%28c%29-figures/") for path in found.pictures)
    # It takes its own place; a file of somebody else's keeps it.
    (folder / "mine.txt").write_text("kept")
    with pytest.raises(Misuse, match=r"mine\.txt is in it"):
        write_markdown(store, "gelcoat-1", out, SCREEN)
    assert (folder / "mine.txt").exists()
    other = tmp_path / "notes.md"
    other.write_text("# My notes\n")
    with pytest.raises(Misuse, match="another kind"):
        write_markdown(store, "gelcoat-1", other, SCREEN)
    assert other.read_text() == "# My notes\n"
