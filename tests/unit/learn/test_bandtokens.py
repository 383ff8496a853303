"""Lines that say their band are read by what says it, and never as one band said of all."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
SHOWN = ("91.4", "45.2", "12.0", "33.3")
FORMS = ["{b} {v} %", "{b};{v};%", "{v} % {b}", "T{b}={v}%", "[{b}] {v}", "0001;{b};{v};OK"]
MEANS = {"UVA": "315-400", "UV-A": "315-400", "UV-B": "280-315", "VIS": "380-780", "IR": "780-1400"}
Bands = tuple[tuple[str, str], ...]


def sent(form: str, band: str, value: str) -> bytes:
    return f"{form.format(b=band, v=value)}\r\n".encode("latin-1")


def taught(
    form: str, marks: Sequence[str], said: Bands = (), channel: str | None = None
) -> Finding:
    made = [
        Press(sent(form, mark, value), Decimal(value))
        for mark, value in zip(marks, SHOWN, strict=False)
    ]
    about = About(Quantity.TRANSMITTANCE, unit="percent", channel=channel, bands=said)
    return learn(made, about, REGISTRY)


def read(found: Finding, form: str, band: str) -> list[tuple[str, str]]:
    (here,) = readings(found.family, found.profile, [sent(form, band, "33.3")], REGISTRY)
    return [(reading.channel, str(reading.value)) for reading in here]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("marks", "bands"),
    [
        (("365nm", "940nm", "550nm"), ("365", "940", "550")),
        (("365 nm", "940 nm", "365 nm"), ("365", "940")),
        (("315-400", "780-1400", "315-400"), ("315-400", "780-1400")),
        (("315-400nm", "380-780nm", "780-1400nm"), ("315-400", "380-780", "780-1400")),
    ],
)
def test_a_line_is_read_as_the_band_that_it_says_in_nanometres(
    form: str, marks: Sequence[str], bands: Sequence[str]
) -> None:
    found = taught(form, marks)
    assert found.outcome is Outcome.SURE, found.believed
    assert any("each line says its band" in one for one in found.believed)
    for mark, band in zip(dict.fromkeys(marks), bands, strict=True):
        assert read(found, form, mark) == [(band, "33.3")]
    for other in ("280-315", "280-315nm", "660nm", "660 nm", "660"):
        assert read(found, form, other) == []


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    "marks", [("UVA", "VIS", "IR"), ("UVA", "IR", "UVA"), ("UV-A", "UV-B") * 2]
)
def test_what_a_word_means_is_asked_of_each(form: str, marks: Sequence[str]) -> None:
    said: Bands = ()
    for mark in dict.fromkeys(marks):
        found = taught(form, marks, said)
        assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "band", mark)
        said += ((mark, MEANS[mark]),)
    found = taught(form, marks, said)
    assert found.outcome is Outcome.SURE, found.believed
    for mark in marks:
        assert read(found, form, mark) == [(MEANS[mark], "33.3")]
    assert read(found, form, "UVC") == read(found, form, "NIR") == []


@pytest.mark.parametrize("form", ["{b} {v} %", "{b};{v};%", "{v} % {b}"])
@pytest.mark.parametrize("marks", [("365", "940", "550"), ("365", "940", "365")])
def test_so_it_is_of_digits_at_the_number_of_which_nothing_says_that_they_are_nanometres(
    form: str, marks: Sequence[str]
) -> None:
    found = taught(form, marks)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "band", "365")
    found = taught(form, marks, tuple((mark, mark) for mark in dict.fromkeys(marks)))
    assert read(found, form, "940") == [("940", "33.3")]
    assert read(found, form, "660") == []


def test_digits_that_count_or_stand_elsewhere_are_no_bands() -> None:
    for form, marks in (
        ("{b} {v} %", ("365", "366", "367", "368")),
        ("T{b};{v};%", ("218", "221", "219")),
    ):
        found = taught(form, marks, channel="365")
        assert found.outcome is Outcome.SURE, found.believed
        assert "(?P<band>" not in found.profile


def test_digits_that_may_be_the_code_of_a_band_are_asked_about() -> None:
    for form, marks in (
        ("{b};7;{v};%", ("365", "940", "365")),
        ("{b} {v} %", ("12", "94", "12")),
    ):
        found = taught(form, marks, channel="365")
        assert (found.missing, found.profile) == ("setting", "")
        assert f"{marks[0]!r} at presses 1 and 3 and {marks[1]!r} at press 2" in found.believed[-1]


def test_one_band_that_was_said_of_all_is_refused_unless_all_lines_say_that_one() -> None:
    marks = ("365nm", "940nm", "365nm")
    found = taught("{b} {v} %", marks, channel="380-780")
    assert found.against is not None
    assert "presses say their band by '365nm' and '940nm'" in found.against.sent
    found = taught("{b} {v} %", marks, channel="940")
    assert found.against is not None
    assert found.against.said == "the band is 940 (--band 940)"
    assert found.against.sent == "the bytes say a band of 365 at presses 1 and 3 and 940 at press 2"
    assert taught("{b} {v} %", ("940nm",) * 3, channel="940").outcome is Outcome.SURE
    assert read(taught("{b} {v} %", marks), "{b} {v} %", "365nm") == [("365", "33.3")]
    said = (("365nm", "315-400"),)
    assert read(taught("{b} {v} %", marks, said), "{b} {v} %", "365nm") == [("315-400", "33.3")]


def test_a_word_that_no_press_had_is_refused() -> None:
    found = taught("{b} {v} %", ("365nm", "940nm", "365nm"), (("VIS", "380-780"),))
    assert found.against is not None
    assert found.against.said == "'VIS' means a band (--band VIS=380-780)"
    found = taught("{b} {v} %", ("UVA",) * 3, (("UVA", "315-400"),))
    assert found.against is not None
    assert found.against.next_step == "name the band alone: --band 315-400"


@pytest.mark.parametrize(
    ("mark", "fits", "other"),
    [("315-400", "315-400", "380-780"), ("UVA", "320-400", "940"), ("UV-B", "280-320", "780-1400")],
)
def test_a_band_that_every_line_says_without_nanometres_is_held_against_what_was_said(
    mark: str, fits: str, other: str
) -> None:
    assert taught("{b} {v} %", (mark,) * 3, channel=fits).outcome is Outcome.SURE
    found = taught("{b} {v} %", (mark,) * 3, channel=other)
    assert found.against is not None
    assert found.against.sent == f"in every press stands {mark!r}"
