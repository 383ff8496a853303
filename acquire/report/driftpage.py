"""The drift of the meters as one page: everything inside, nothing fetched, nothing to run.

Writes one file, whole or not at all. What it shows was worked out by `acquire.drift`. Any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from acquire import __version__
from acquire.drift.foreseen import MOST_BLOCKS, blocks
from acquire.drift.history import Seen
from acquire.history.outlook import Control
from acquire.report.compiled import COMPILED
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.plots.ink import style_rules
from acquire.report.sections.history import (
    OPEN_AT_MOST,
    READING_AID,
    early_lines,
    foreseen_lines,
    history_blocks,
    overview,
)
from acquire.report.words.wording import said_moment, tied
from acquire.visible import visible


def write_drift_page(
    store: Path, found: Sequence[Seen], now_ns: int, out: Path, remark: str = ""
) -> Path:
    """Write the page, with a `remark` at its head, and give its path.

    Raises `Misuse` where `out` cannot be written.
    """
    require_place(out, "html", store)
    text = render_drift(store.name, found, now_ns, remark)
    with whole_file(out) as file:
        file.write(text)
    return out


def render_drift(store: str, found: Sequence[Seen], now_ns: int, remark: str = "") -> str:
    """The page as text."""
    environment = Environment(
        loader=PackageLoader("acquire.report"),
        bytecode_cache=COMPILED,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    # Only what our own drawing made is taken for markup: every text in it is escaped already.
    environment.filters |= {"tied": tied, "drawn": Markup}
    # Of many histories only the last block of each: a page of a whole bench has to be quick.
    most = MOST_BLOCKS if len(found) <= OPEN_AT_MOST else 1
    pasts = [blocks(seen.history, most, seen.outlook.segments) for seen in found]
    text = environment.get_template("drift.html").render(
        store=store,
        made=said_moment(now_ns),
        ink_rules=Markup(style_rules()),  # noqa: S704 - our own
        unchecked="",
        remark=remark,
        warned=early_lines(found),
        is_known=any(s.outlook.control is not Control.UNKNOWN for s in found),
        foreseen=foreseen_lines(pasts),
        only_last=most == 1,
        overview=overview(found),
        blocks=history_blocks(found, pasts),
        reading_aid=READING_AID,
        version=__version__,
    )
    return visible(text, "\t\n\r")
