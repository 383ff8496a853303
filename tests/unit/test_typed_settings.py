"""`link = { typed = true }` in a bench file."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.errors import SettingsError
from acquire.model import LinkAddress
from acquire.settings import load_bench
from acquire.settings.link import may_be_same
from acquire.settings.shipped import config_dir

INSTRUMENT = """
[[instrument]]
id = "{id}"
kind = "gloss"
serial = "{serial}"
driver = "keyed"
profile = "keyed-gloss-20"
policy = "gloss-20"
link = {link}
"""


def bench_file(folder: Path, *links: str) -> Path:
    shipped = (config_dir() / "boatyard" / "bench.toml").read_text("utf-8")
    text = '[bench]\nname = "Bench"\nstore = "b.sqlite"\n'
    for number, link in enumerate(links):
        text += INSTRUMENT.format(id=f"hand-{number}", serial=f"HN-{number}", link=link)
    path = folder / "bench.toml"
    path.write_text(text + shipped[shipped.index("[[piece]]") :], "utf-8")
    return path


def faults(folder: Path, *links: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        load_bench(bench_file(folder, *links))
    return [str(fault) for fault in caught.value.faults]


def test_two_typed_instruments_are_no_clash(tmp_path: Path) -> None:
    bench = load_bench(bench_file(tmp_path, "{ typed = true }", "{ typed = true }"))
    assert [i.address for i in bench.instruments] == [LinkAddress(typed=True)] * 2
    assert str(bench.instruments[0].address) == "typed by hand"
    assert not may_be_same(LinkAddress(typed=True), LinkAddress(typed=True))


def test_typed_is_a_way_of_its_own(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, '{ typed = true, port = "COM3" }')
    assert fault.startswith("instrument[0].link: got 'port' and 'typed', wanted one way")
    assert fault.endswith("or typed = true for one without a port")


def test_typed_is_true_or_not_there(tmp_path: Path) -> None:
    assert faults(tmp_path, "{ typed = false }") == [
        "instrument[0].link.typed: got false, wanted true"
    ]
