"""The pages on a narrow screen: no column is lost, and what is to the right is said to be there."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from acquire.report import write_report
from acquire.report.driftpage import render_drift
from tests.unit.drifting import only
from tests.unit.reported import full

VOID = {"meta", "path", "circle", "use"}
REM = re.compile(r"([\d.]+)rem")


class Tables(HTMLParser):
    """Each table with the classes of what is around it, and its cells."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self._open: list[tuple[str, dict[str, str | None]]] = []
        self.around: list[set[str]] = []
        self.stacked: list[dict[str, str | None]] = []
        self.bare_heads: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        own = dict(attrs)
        if tag == "table":
            self.around.append(classes(self._open[-1][1]))
        if tag == "td" and any("stacked" in classes(a) for _, a in self._open):
            self.stacked.append(own)
        if tag not in VOID:
            self._open.append((tag, own))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        inside = [classes(a) for t, a in self._open if t == "tr"]
        if data.strip() and inside and inside[-1] & {"group", "remark"}:
            tag, own = self._open[-1]
            if tag in ("th", "td") and "colspan" in own:
                self.bare_heads.append(data.strip())


def classes(attributes: dict[str, str | None]) -> set[str]:
    return set((attributes.get("class") or "").split())


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The page of results and that of drifts, as texts."""
    folder = tmp_path_factory.mktemp("phone")
    yard = full(folder)
    try:
        now_ns = yard.clock.now().utc_ns
        out = write_report(yard.bench.store, "gelcoat-1", folder / "report.html")
        drift = render_drift("bench.sqlite", [only(yard).seen(now_ns)], now_ns)
    finally:
        yard.close()
    return [out.read_text(encoding="utf-8"), drift]


def narrow(page: str) -> tuple[float, str]:
    """Up to which width tables slide, in rem, and the rules for that."""
    found = re.search(
        r"@media screen and \(max-width:([\d.]+)rem\)\{\n(.*?::before.*?)\n\}", page, re.DOTALL
    )
    assert found is not None
    return float(found[1]), found[2]


def test_every_table_slides_in_an_area_of_its_own_or_is_stacked(pages: list[str]) -> None:
    for page in pages:
        tables = Tables(page)
        assert len(tables.around) > 1
        assert all("scroll" in around for around in tables.around)
        assert ".scroll{overflow-x:auto" in page
    stacked = Tables(pages[0]).stacked
    assert stacked
    # In a stacked table each figure stands below the other, with the name of its column before it.
    assert all(cell.get("data-what") or cell.get("class") == "wide" for cell in stacked)


def test_a_table_that_is_wider_than_the_screen_says_that_it_has_more_columns(
    pages: list[str],
) -> None:
    for page in pages:
        upto, rules = narrow(page)
        assert '.scroll:not(.stacked)::before{content:"More columns:' in rules
        # It is said wherever a table is wider than what is left of the screen beside the margins.
        least = re.search(r"\ntable\{[^}]*min-width:([\d.]+)rem", page)
        margin = re.search(r"\.head,\.body\{[^}]*padding:0 ([\d.]+)rem", page)
        assert least is not None
        assert margin is not None
        assert upto == float(least[1]) + 2 * float(margin[1])


def test_the_first_column_and_the_heads_of_groups_stay_in_sight(pages: list[str]) -> None:
    for page in pages:
        _, rules = narrow(page)
        assert re.search(r"tr>:first-child:not\(\[colspan\]\)\{position:sticky;left:0", rules)
        assert re.search(r"\.group th>\*,\.remark td>\*\{position:sticky", rules)
        # Only an element can stay while its cell, which is as wide as the table, slides away.
        assert Tables(page).bare_heads == []


def test_no_column_is_hidden_on_a_narrow_screen(pages: list[str]) -> None:
    for page in pages:
        style = page[page.index("<style>") : page.index("</style>")]
        screens = style[: style.index("@media print")]
        hidden = re.findall(r"([^{}\n]*)\{[^}]*(?:display:none|visibility:hidden)", screens)
        assert hidden == [".paper"]  # what is said on paper alone
