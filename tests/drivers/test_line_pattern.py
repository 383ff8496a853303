"""Patterns of a profile: what is allowed cannot hang, what could is refused in words."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverkit.pattern import LONGEST_PATTERN, compiled


@pytest.mark.parametrize(
    "pattern",
    [
        r"(?:a+)+b",  # the classic: doubles its tries with every a
        r"(?:a|a)*b",
        r"(?:a?){30}b",
        r"(?P<value>\d+)*",
    ],
)
def test_a_repeated_group_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match="not of a \\(group\\)"):
        compiled(pattern)


@pytest.mark.parametrize(
    "pattern", [r"\d+\d+\d+\d+x", r".*,.*,.*,.*", r"\w*[a-z]*\S*.*x", "a?" * 12 + "a" * 12]
)
def test_repeats_that_can_trade_characters_are_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match="kept apart"):
        compiled(pattern)


@pytest.mark.parametrize(
    "pattern", [r"(a)", r"(?=a)b", r"(?<!a)b", r"(?P<x>a)(?P=x)", r"(?i:a)", r"(?#note)a"]
)
def test_only_plain_groups_are_taken(pattern: str) -> None:
    with pytest.raises(ValueError, match="groups of the form"):
        compiled(pattern)


@pytest.mark.parametrize("pattern", [r"^a", r"a$", r"\ba", r"a\Z", r"(?P<v>a)\1"])
def test_anchors_and_references_are_refused_since_the_whole_line_must_fit(pattern: str) -> None:
    with pytest.raises(ValueError, match=r"whole line|escapes"):
        compiled(pattern)


@pytest.mark.parametrize("pattern", ["(", "[a", "a**", "*", "a{5,2}", "(?P<1>a)", "a{99999999999}"])
def test_what_is_no_regular_expression_is_refused_with_the_place(pattern: str) -> None:
    with pytest.raises(ValueError, match="a regular expression"):
        compiled(pattern)


@pytest.mark.parametrize("pattern", ["[[a]", "[a--b]", "[a&&b]", "[a||b]", "[a~~b]"])
def test_classes_that_python_may_read_otherwise_one_day_are_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match="classes without"):
        compiled(pattern)


def test_a_pattern_without_end_is_refused() -> None:
    with pytest.raises(ValueError, match="at most 300"):
        compiled("a" * (LONGEST_PATTERN + 1))
    with pytest.raises(ValueError, match="at most 8"):
        compiled("|".join("abcdefghijk"))


@pytest.mark.parametrize(
    ("pattern", "line"),
    [
        (r"(?P<value>-?\d+\.?\d*)", "-12.5"),
        (r"(?:\x02)?(?P<value>\d{1,3})(?:,\d)?", "\x0212,5"),
        (r"[\]\[)(]+", "()[]"),
        (r"a{,3}b{2,}c{4}", "aabbbcccc"),
        (r"x{}", "x{}"),
        (r"(?P<value>[0-9.]+) *(?P<unit>N|gf)", "12.5 gf"),
        (r".*,.*,.*", "a,b,c"),
    ],
)
def test_what_a_device_needs_is_taken(pattern: str, line: str) -> None:
    assert compiled(pattern).fullmatch(line)


def test_digits_are_those_of_ascii_alone() -> None:
    assert compiled(r"\d+").fullmatch("12")
    assert not compiled(r"\d+").fullmatch("١٢")


@settings(deadline=None, derandomize=True)
@given(st.text(alphabet=r"ab\d[]().*+?{1,2}|:P<x>^$-&", max_size=24))
def test_any_text_gives_a_pattern_or_says_what_is_wanted(text: str) -> None:
    try:
        pattern = compiled(text)
    except ValueError:
        return
    # Whatever was let through comes to an end, on a line that almost fits.
    pattern.fullmatch("ab" * 32 + "!")
    assert pattern.pattern == text
