"""What a simulated band head sees: glass, film, filter, lamp, dark; and that it repeats."""

from __future__ import annotations

from statistics import mean, stdev

import pytest

from simulators.transmission.device import BandsHead, value
from simulators.transmission.head import Head
from simulators.transmission.light import (
    DARK,
    FILTER,
    GLASS,
    INFRARED,
    LUMINOUS,
    NEAR_INFRARED,
    OPEN,
    UVA,
    VISIBLE,
    Band,
    Coated,
    Piece,
)
from simulators.usb.light import Slide

BANDS = (UVA, VISIBLE, INFRARED)


def head_on(piece: Piece, *, seed: int = 1, noise_sd: float = 0.0) -> Head:
    head = Head("TB-1", seed, BANDS, noise_sd)
    head.piece = piece
    return head


def seen(head: Head, band: Band = VISIBLE, presses: int = 1) -> list[float]:
    return [head.press().percent[band.name] for _ in range(presses)]


def test_open_beam_dark_and_filter_read_as_certified_in_every_band() -> None:
    for piece, percent in ((OPEN, 100.0), (DARK, 0.0), (FILTER, 50.0)):
        shown = head_on(piece).press().percent
        assert shown == pytest.approx(dict.fromkeys(shown, percent), abs=0.001)


def test_glass_lets_about_92_percent_through_but_less_next_to_its_edge() -> None:
    # 4 % at each face: ((1.52 - 1) / (1.52 + 1))^2 = 4.3 % (Fresnel, index of soda-lime glass from
    # memory); what is between comes back as well, so that 92 % remain.
    assert GLASS.percent(INFRARED) == pytest.approx(92.0, abs=0.01)
    assert GLASS.percent(LUMINOUS) == pytest.approx(92.0, abs=0.01)
    assert 80 < GLASS.percent(UVA) < 91
    assert Coated(Slide("further", edge_nm=360)).percent(UVA) < GLASS.percent(UVA) - 25


def test_a_film_takes_its_own_share_of_each_band() -> None:
    coated = Coated(Slide("film"), {UVA.name: 0.1, VISIBLE.name: 1.02})
    assert coated.percent(UVA) == pytest.approx(0.1 * GLASS.percent(UVA))
    assert coated.percent(VISIBLE) == pytest.approx(1.02 * GLASS.percent(VISIBLE))
    assert coated.percent(INFRARED) == GLASS.percent(INFRARED)


def test_a_band_is_called_by_its_limits_and_a_lamp_by_its_wavelength() -> None:
    assert [band.name for band in (*BANDS, NEAR_INFRARED)] == [
        "315-400",
        "380-780",
        "780-1400",
        "940",
    ]


def test_a_cold_lamp_comes_up_within_minutes() -> None:
    head = head_on(OPEN)
    head.restart()
    cold = seen(head)[0]
    assert cold == pytest.approx(96.0, abs=0.1)
    head.wait(300)
    # After one time constant a share of 1/e of the difference is left.
    assert seen(head)[0] == pytest.approx(100 - 4 / 2.718, abs=0.05)
    head.wait(3000)
    assert seen(head)[0] == pytest.approx(100.0, abs=0.01)


def test_its_own_key_takes_the_open_beam_of_now_for_100_and_refuses_a_slide() -> None:
    head = head_on(OPEN)
    head.lamp.shift(0.9, 2.0)
    assert seen(head)[0] == pytest.approx(92.0, abs=0.01)
    head.set_open_beam()
    assert seen(head)[0] == pytest.approx(100.0, abs=0.01)
    head.piece = GLASS
    with pytest.raises(ValueError, match="blank lets"):
        head.set_open_beam()


def test_scatter_is_largest_in_the_ultraviolet_and_small_in_the_dark() -> None:
    visible = stdev(seen(head_on(OPEN, noise_sd=0.1), VISIBLE, 200))
    assert visible == pytest.approx(0.1, rel=0.2)
    assert stdev(seen(head_on(OPEN, noise_sd=0.1), UVA, 200)) == pytest.approx(0.3, rel=0.2)
    assert stdev(seen(head_on(DARK, noise_sd=0.1), VISIBLE, 200)) == pytest.approx(0.03, rel=0.2)
    assert mean(seen(head_on(FILTER, noise_sd=0.1), VISIBLE, 200)) == pytest.approx(50, abs=0.03)


def test_the_same_seed_and_acts_give_the_same_numbers() -> None:
    first = seen(head_on(GLASS, noise_sd=0.1), UVA, 10)
    assert seen(head_on(GLASS, noise_sd=0.1), UVA, 10) == first
    assert seen(head_on(GLASS, seed=2, noise_sd=0.1), UVA, 10) != first


def test_a_lamp_drifts_on_with_every_press() -> None:
    head = head_on(OPEN)
    head.lamp.gain_per_press = 0.99
    assert seen(head, presses=3) == pytest.approx([100, 99, 98.01], abs=0.001)


def test_a_head_without_lamp_or_power_says_nothing() -> None:
    device = BandsHead(head_on(OPEN))
    device.head.lamp_works = False
    assert device.press() == b""
    assert device.last is not None
    assert device.last.code == "LAMP"
    device.power(False)
    assert device.press() == b""
    assert device.receive(b"?ID\r\n") == b""
    with pytest.raises(ValueError, match="is off"):
        device.set_open_beam()


@pytest.mark.parametrize(
    ("percent", "text"),
    [(12.44, "12,4"), (-0.3, "0,0"), (0.04, "0,0"), (120.0, "120,0"), (120.06, "---")],
)
def test_the_display_has_one_decimal_no_sign_and_an_end(percent: float, text: str) -> None:
    assert value(percent) == text
