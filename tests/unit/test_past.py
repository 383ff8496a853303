"""Past results out of a CSV file: what comes in, and every fault at once with line and column."""

from __future__ import annotations

import pytest

from acquire.errors import SettingsError
from acquire.model.past import AT_LEAST
from acquire.settings.mapping import load_mapping, parse_mapping
from acquire.settings.shipped import config_dir
from acquire.trial.past import LARGEST_BYTES, PastResult, past_results

MAPPING = """
[trial]
column = "Season"
[treatment]
column = "Product"
[[figure]]
name = "Gloss gained"
quantity = "gloss"
geometry = 20
unit = "gloss_unit"
value_column = "GU"
uncertainty_column = "U"
[conditions]
panel = { column = "Panel" }
"""
LONG = """
[trial]
text = "autumn"
[treatment]
column = "P"
[[figure]]
name_column = "What"
quantity_column = "Kind"
channel_column = "At"
unit_column = "Unit"
stage_column = "When"
value_column = "V"
uncertainty_column = "u"
uncertainty_is = "standard"
higher_is_better = false
[units]
g = "gram_force"
GU = "gloss_unit"
"""
HEAD = "Season,Product,GU,U,Panel\n"


def read(text: str | bytes, mapping: str = MAPPING) -> tuple[PastResult, ...]:
    data = text.encode() if isinstance(text, str) else text
    return past_results(data, parse_mapping(mapping, "m.toml"), "past.csv")


def faults(text: str | bytes, mapping: str = MAPPING) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        read(text, mapping)
    return [str(fault) for fault in caught.value.faults]


def test_a_row_becomes_figures_with_their_line() -> None:
    (one,) = read(HEAD + "\n  \n2019,Grebe wax,2.40,0.8,white\n2020,Tern coat,,,blue\n")
    assert (one.line, one.trial, one.treatment, one.value, one.unit) == (
        4, "2019", "Grebe wax", "2.40", "gloss_unit",
    )  # fmt: skip
    assert (one.expanded_uncertainty, one.channel) == ("0.8", "20")
    assert one.conditions == {"panel": "white", "higher is better": "yes"}


LIVES = """
[trial]
text = "autumn"
[treatment]
column = "P"
[[figure]]
name = "Washes survived"
quantity = "washes"
unit = "one"
value_column = "Washes"
"""


def test_a_life_that_had_not_ended_comes_in_as_at_least_so_long() -> None:
    rows = "P,Washes\nTern,>20\nGrebe,\N{GREATER-THAN OR EQUAL TO} 20\nGull,>= 12\nKnot,20\n"
    found = read(rows, LIVES)
    assert [one.value for one in found] == ["20", "20", "12", "20"]
    assert [AT_LEAST in one.conditions for one in found] == [True, True, True, False]
    # It is the same figure all the same, and not one beside a life that had ended.
    (told,) = faults("P,Washes\nTern,20\nTern,>20\n", LIVES)
    assert "a second time" in told
    # Only washes can be of that kind.
    (told,) = faults(HEAD + "2019,Grebe wax,>2.4,,white\n")
    assert "wanted a number such as 12.5" in told


def test_a_heading_that_is_not_there_is_told_with_those_that_are() -> None:
    told = faults("P;Washes\nTern;20\n", LIVES)
    assert told[0].endswith("wanted it among 'P;Washes' (is the delimiter right?)")


def test_units_of_the_file_are_told_and_forces_come_to_newton() -> None:
    # 120 gf = 120 x 9.80665e-3 N exactly (the standard gravity, CGPM 1901).
    rows = (
        "P,What,Kind,At,Unit,When,V,u\nTern,Pull,force,,g,cured,120,2\nTern,Look,gloss,60°,GU,,3,\n"
    )
    force, gloss = read(rows, LONG)
    assert (force.value, force.unit, force.expanded_uncertainty) == (
        "1.17679800", "newton", "0.03922660",
    )  # fmt: skip
    assert (gloss.channel, gloss.stage, gloss.trial) == ("60", "", "autumn")
    assert gloss.conditions == {"higher is better": "no"}


def test_the_shipped_mapping_reads_the_table_it_describes() -> None:
    path = config_dir() / "scorecards" / "past-results.toml"
    text = path.read_text("utf-8")
    lines = [
        line[1:].strip() for line in text.splitlines() if line[:1] == "#" and line.count(";") > 5
    ]
    found = past_results("\n".join(lines).encode(), load_mapping(path), "past.csv")
    assert [(r.figure, r.value) for r in found] == [
        ("Gloss gained", "2.4"), ("Washes survived", "35"),
    ]  # fmt: skip


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "cp1252", "utf-8-sig"])
def test_encodings_and_decimal_commas_go_by_the_mapping(encoding: str) -> None:
    mapping = f"""[file]
encoding = "{encoding}"
delimiter = "\\t"
decimal = ","
skip_lines = 2
{MAPPING}"""
    text = "a title\nmade by hand\n" + HEAD.replace(",", "\t") + "2019\tMöwe\t\u22122,4\t0,8\t\n"
    text = text.replace("\u2212", "-")
    (one,) = read(text.encode(encoding), mapping)
    assert (one.line, one.treatment, one.value) == (4, "Möwe", "-2.4")


def test_every_faulty_line_is_told_at_once_with_its_column() -> None:
    told = faults(
        HEAD + "2019,,2.4,0.8,white\n2019,Tern,=A1,-1,white\n2019,Tern,2,4,0.8,white\n"
        '2020,"a\nb",3 GU,x,=B2\n'
    )
    assert [line.split(": got")[0] for line in told] == [
        "line 2, column 'Product'", "line 3, column 'U'", "line 3, column 'GU'", "line 4",
        "line 5, column 'Product'", "line 5, column 'Panel'", "line 5, column 'U'",
        "line 5, column 'GU'",
    ]  # fmt: skip


def test_of_many_faults_the_first_fifty_are_told_and_their_number() -> None:
    with pytest.raises(SettingsError, match=r"past\.csv has 200 faults, the first 50") as caught:
        read(HEAD + "2019,Tern,many,,\n" * 200)
    assert len(caught.value.faults) == 50


@pytest.mark.parametrize(
    ("text", "got", "wanted"),
    [
        ("", "nothing in it", "a line of headings"),
        (HEAD, "no row with a value", "a row with a value"),
        (HEAD + "2019,Tern,2\0,,\n", "a NUL", "utf-16"),
        (HEAD + '2019,"Tern,2,,\n3,4,5\n', "a quote that is never closed", "a closing quote"),
        (HEAD + '2019,"Tern"x,2,,\n', "more text behind a closing quote", "a delimiter"),
        (HEAD + "2019," + "x" * 200_000 + ",2,,\n", "a cell of more than", "cells of a table"),
        ("Season,Product,GU,GU,U,Panel\n", "the heading 'GU' 2 times", "each heading once"),
        ("Season;Product;GU;U;Panel\n", "no heading 'Season'", "is the delimiter right?"),
        (HEAD + "2019,Tern,2,,\n2019,Tern,3,,\n", "a second time", "line 2 has it"),
        (HEAD + "2019,Tern,1e400,,\n", "'1e400'", "a number such as 12.5"),
        (HEAD + "2019,Tern,1e15,,\n", "'1e15'", "from -1e12 to 1e12"),
        (HEAD + "2019,Tern,nan,,\n", "'nan'", "a number such as 12.5"),
        (HEAD + "2019,Tern\x1b,2,,\n", "\\x1b", "without control signs"),
    ],
)
def test_what_cannot_be_read_gets_one_clear_message(text: str, got: str, wanted: str) -> None:
    told = faults(text)[0]
    assert got in told
    assert wanted in told


def test_bytes_of_another_encoding_are_told_by_line() -> None:
    (told,) = faults(HEAD.encode() + "2019,Möwe,2,,".encode("cp1252"))
    assert told.startswith("line 2: got the byte 0xf6, which is no utf-8")
    (told,) = faults(b"x", "[file]\nencoding = 'utf-16'\n" + MAPPING)
    assert "utf-16" in told


def test_a_file_of_a_hundred_megabytes_is_not_read() -> None:
    (told,) = faults(b"x" * (LARGEST_BYTES + 1))
    assert told == "file: got more than 2 MB, wanted a table of results, at most 2 MB"


def test_a_unit_of_another_kind_is_told() -> None:
    rows = "P,What,Kind,At,Unit,When,V,u\nTern,Pull,force,,GU,cured,120,2\nTern,x,y,,g,,1,\n"
    unit, kind = faults(rows, LONG)
    assert "column 'Unit': got 'GU', wanted a unit of force" in unit
    assert "column 'Kind': got 'y', wanted 'gloss', 'force'" in kind


@pytest.mark.parametrize(
    ("mapping", "told"),
    [
        (MAPPING.replace('"gloss_unit"', '"newton"'), "figure[0].unit: got 'newton'"),
        (MAPPING.replace("geometry = 20", ""), "figure[0].geometry: got nothing"),
        (MAPPING.replace('quantity = "gloss"', 'quantity = "washes"'), "no geometry"),
        (MAPPING.replace('column = "Season"', ""), "trial: got nothing"),
        (MAPPING + '[units]\nGU = "smoot"', "units.GU: got 'smoot'"),
        ('[file]\nencoding = "klingon"\ndelimiter = ";;"\n' + MAPPING, "file.encoding"),
        ('[file]\ndecimal = "!"\n' + MAPPING, "file.decimal"),
        (MAPPING.replace('name = "Gloss gained"', ""), "figure[0].name: got nothing"),
    ],
)
def test_faults_of_a_mapping_are_told_with_their_place(mapping: str, told: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_mapping(mapping, "m.toml")
    assert told in str(caught.value)
