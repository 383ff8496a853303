"""Of several bands in a line the one that stands at the number is its own, whatever was said."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity

UV, VIS = "315-400", "380-780"
PAIRS = (("12.4", "88.0"), ("7.1", "70.2"), ("35.0", "91.3"))


def taught(form: str, which: int, band: str, pairs: tuple[tuple[str, str], ...] = PAIRS) -> Finding:
    made = [
        Press(f"{form.format(*pair, n=count)}\r\n".encode("latin-1"), Decimal(pair[which]))
        for count, pair in enumerate(pairs, 1)
    ]
    about = About(Quantity.TRANSMITTANCE, unit="percent", channel=band)
    return learn(made, about, Registry())


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize(
    "form",
    [
        "315-400nm {0}% 380-780nm {1}%",
        "{n:04d},315-400nm {0}% 380-780nm {1}%",
        "315-400 nm={0}%; 380-780 nm={1}%",
        "{0}% 315-400nm {1}% 380-780nm",
        "{n:04d} {0}% @315-400nm, {1}% @380-780nm",
        "21.{n}C 315-400nm {0}%\r\n380-780nm {1}%",
    ],
)
def test_the_band_at_the_number_is_taken_and_any_other_one_is_refused(
    form: str, which: int
) -> None:
    own, other = (UV, VIS) if which == 0 else (VIS, UV)
    found = taught(form, which, own)
    assert found.against is None
    assert found.outcome is Outcome.SURE, found.believed
    found = taught(form, which, other)
    assert found.against is not None, found.believed
    assert found.against.said == f"the band is {other} (--band {other})"
    assert own in found.against.sent
    assert other not in found.against.sent


def test_a_wavelength_within_the_band_is_its_own_and_that_of_the_other_number_is_not() -> None:
    form = "{n:04d},365nm:{0}% 550nm:{1}%"
    assert taught(form, 0, UV).outcome is Outcome.SURE
    assert taught(form, 1, VIS).outcome is Outcome.SURE
    for which, other in ((0, VIS), (1, UV)):
        assert taught(form, which, other).against is not None


@pytest.mark.parametrize("form", ["315-400nm {0}% 380-780nm {1}%", "{0}% 315-400nm {1}% 380-780nm"])
def test_another_value_that_stood_still_is_one(form: str) -> None:
    pairs = (("0.0", "88.0"), ("0.0", "70.2"), ("0.0", "91.3"))
    assert taught(form, 1, UV, pairs).against is not None
    assert taught(form, 1, VIS, pairs).against is None


@pytest.mark.parametrize("band", [UV, VIS])
@pytest.mark.parametrize("which", [0, 1])
def test_of_bands_that_stand_before_all_numbers_a_person_says_which_it_is(
    which: int, band: str
) -> None:
    assert taught("315-400nm 380-780nm {0}% {1}%", which, band).against is None
    found = taught("315-400nm 380-780nm {0}% {1}%", which, "940")
    assert found.against is not None
    assert "'315-400nm' and '380-780nm'" in found.against.sent


@pytest.mark.parametrize("which", [0, 1])
def test_so_it_is_in_a_frame(which: int) -> None:
    own, other = (UV, VIS) if which == 0 else (VIS, UV)
    made = [
        Press(
            f"\x02\x81315-400nm{a:>5} 380-780nm{b:>5}\x03".encode("latin-1"), Decimal((a, b)[which])
        )
        for a, b in PAIRS
    ]
    for band, is_refused in ((own, False), (other, True)):
        about = About(Quantity.TRANSMITTANCE, unit="percent", channel=band)
        found = learn(made, about, Registry())
        assert (found.against is not None) == is_refused
