"""How far a weight of a class may be from its nominal mass, and what it pulls with. Pure.

Maximum permissible errors: OIML R 111-1:2004, table 1 (1 mg to 5 kg held against a published copy
of the table; 10 kg to 50 kg from memory).
"""

from __future__ import annotations

from decimal import Decimal

from acquire.model import WeightClass

_COLUMNS = tuple(WeightClass)
_NONE = "-"
# Nominal value in grams, then milligrams for the classes in their order.
_TABLE = """
50000  25     80     250    800   2500   8000   25000
20000  10     30     100    300   1000   3000   10000
10000  5.0    16     50     160   500    1600   5000
5000   2.5    8.0    25     80    250    800    2500
2000   1.0    3.0    10     30    100    300    1000
1000   0.5    1.6    5.0    16    50     160    500
500    0.25   0.8    2.5    8.0   25     80     250
200    0.10   0.3    1.0    3.0   10     30     100
100    0.05   0.16   0.5    1.6   5.0    16     50
50     0.03   0.10   0.3    1.0   3.0    10     30
20     0.025  0.08   0.25   0.8   2.5    8.0    25
10     0.020  0.06   0.20   0.6   2.0    6.0    20
5      0.016  0.05   0.16   0.5   1.6    5.0    16
2      0.012  0.04   0.12   0.4   1.2    4.0    12
1      0.010  0.03   0.10   0.3   1.0    3.0    10
0.5    0.008  0.025  0.08   0.25  0.8    2.5    -
0.2    0.006  0.020  0.06   0.20  0.6    2.0    -
0.1    0.005  0.016  0.05   0.16  0.5    1.6    -
0.05   0.004  0.012  0.04   0.12  0.4    -      -
0.02   0.003  0.010  0.03   0.10  0.3    -      -
0.01   0.003  0.008  0.025  0.08  0.25   -      -
0.005  0.003  0.006  0.020  0.06  0.20   -      -
0.002  0.003  0.006  0.020  0.06  0.20   -      -
0.001  0.003  0.006  0.020  0.06  0.20   -      -
"""

_MPE_MG: dict[tuple[Decimal, WeightClass], Decimal] = {
    (Decimal(nominal), column): Decimal(figure)
    for nominal, *figures in (line.split() for line in _TABLE.strip().splitlines())
    for column, figure in zip(_COLUMNS, figures, strict=True)
    if figure != _NONE
}

STANDARD_GRAVITY = Decimal("9.80665")
"""m/s2 (CGPM 1901): what a gram-force is reckoned with."""

LEAST_GRAVITY, MOST_GRAVITY = Decimal("9.76"), Decimal("9.84")
"""m/s2: all places where people live (9.780 to 9.832 from equator to pole at sea level by the
WGS 84 ellipsoid, less on heights; from memory)."""

_BUOYANCY = 1 - Decimal("1.2") / Decimal(8000)
"""A weight is named by the mass of the steel (8000 kg/m3) that balances it in air of 1.2 kg/m3
(conventional mass, OIML D 28), so the air bears this part of any weight, whatever it is made of."""


def mpe_g(mass_g: Decimal, weight_class: WeightClass) -> Decimal | None:
    """Maximum permissible error in grams; None where the class has no such weight."""
    found = _MPE_MG.get((mass_g.normalize(), weight_class))
    return None if found is None else found / 1000


def pull_n(mass_g: Decimal, gravity_m_s2: Decimal) -> Decimal:
    """The force in newton with which a weight of this conventional mass pulls in air."""
    return mass_g / 1000 * gravity_m_s2 * _BUOYANCY
