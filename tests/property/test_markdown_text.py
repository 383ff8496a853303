"""Whatever text a page shows, its Markdown shows the same and nothing else comes of it.

The parser is markdown-it-py, which is held to the examples of CommonMark.
"""

from __future__ import annotations

import re
from html import escape

from hypothesis import example, given
from hypothesis import strategies as st

from acquire.report.markdownpage import markdown_of
from acquire.visible import visible
from tests.unit.marked import Marked

_PAGE = """<html><body><main><section id="s"><h2>{0}</h2><p>{0}</p><p>see <b>{0}</b>, {0}</p>
<ul><li>{0}</li><li><b>{0}</b>: {0}<ul><li>{0}</li></ul></li></ul>
<dl class="facts"><div><dt>{0}</dt><dd>{0}</dd></div></dl>
<div class="scroll"><table><thead><tr><th>{0}</th><th class="n">b</th><th>c</th></tr></thead>
<tbody><tr class="group"><th colspan="3">{0}<small>{0}</small></th></tr>
<tr><th>{0}</th><td>{0}</td><td><code>{0}</code> <em>{0}</em></td></tr>
<tr><td>{0}</td><td colspan="2">{0}</td></tr>
<tr class="remark"><td colspan="3">{0}</td></tr></tbody></table></div>
<figure><figcaption>{0}</figcaption><svg viewBox="0 0 4 4" role="img" aria-label="{0}"></svg>
</figure><details><summary>{0}</summary><pre>{0}</pre></details><p><code>{0}</code></p><div>{0}</div>
</section></main></body></html>"""

_TEXTS = st.one_of(
    st.text(max_size=40),
    # Whatever Markdown, HTML or a table could take for its own.
    st.lists(
        st.sampled_from(
            ["\\", "`", "``", "*", "**", "_", "[x](y)", "![", "<b>", "</td>", "&amp;", "&#60;", "|",
             "~~", "#", "# ", "- ", "+ ", "1. ", "2) ", "> ", "=", "---", "```", "$x$", "a", " ",
             "\n", "\n\n", "\r", "\t", "https://x.example", "www.x.example", "<!--", "]: /",
             "\u202e",
             "é", "🐧", "\x00", "\ud800", "[^1]", ":---", "{{ x }}", "'", '"'],
        ),
        max_size=12,
    ).map("".join),
)  # fmt: skip


@given(_TEXTS)
@example("x" * 10_000)
@example("| a | b |\n| --- | --- |")
def test_a_text_is_shown_as_it_is_wherever_it_stands(text: str) -> None:
    shown = visible(text, "\t\n\r")
    markdown, figures = markdown_of(_PAGE.format(escape(shown)), "f")
    found = Marked(markdown)
    assert not found.kinds & {"html_block", "html_inline", "link_open", "hr", "blockquote_open"}
    assert found.pictures == [f"f/{figures[0].name}.svg"]
    assert [[len(row) for row in table] for table in found.tables] == [[3, 3, 3]]
    said = " ".join(shown.split())
    if not said:
        return
    # Every place shows it whole: that of the page's own words beside it is known.
    plain = re.compile(r"\s+")
    texts = [plain.sub("", one) for one in found.texts]
    once = plain.sub("", said)
    assert texts == [
        once, once, f"see{once},{once}", once, f"{once}:{once}", once, f"{once}:{once}",
        f"{once}{once}", once, "b", "c", once, once, f"{once}{once}", once, once, "",
        f"{once}:{once}", once, once, once, once, once,
    ]  # fmt: skip
    assert found.tables[0][1:] == [[said, said, f"{said} {said}"], [said, said, ""]]
