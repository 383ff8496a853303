"""Coverage factors at 95 %: Student's t for whole degrees of freedom.

Source: JCGM 100:2008 (GUM), table G.2, column p = 95 %. Effective degrees of freedom are cut to
the next lower whole number or table entry (G.4.1), which never makes an uncertainty smaller.
"""

from __future__ import annotations

from decimal import Decimal

_T95 = {
    1: "12.71", 2: "4.30", 3: "3.18", 4: "2.78", 5: "2.57", 6: "2.45", 7: "2.36", 8: "2.31",
    9: "2.26", 10: "2.23", 11: "2.20", 12: "2.18", 13: "2.16", 14: "2.14", 15: "2.13", 16: "2.12",
    17: "2.11", 18: "2.10", 19: "2.09", 20: "2.09", 25: "2.06", 30: "2.04", 35: "2.03", 40: "2.02",
    45: "2.01", 50: "2.01", 100: "1.984",
}  # fmt: skip
_INFINITE = Decimal("1.960")


def t95(degrees_of_freedom: Decimal | None) -> Decimal:
    """The two-sided 95 % factor; None means infinitely many degrees of freedom.

    Between 100 and infinity the entry for 100 is used. Below one there is no factor: ValueError.
    """
    if degrees_of_freedom is None:
        return _INFINITE
    if degrees_of_freedom < 1:
        raise ValueError(f"no coverage factor for {degrees_of_freedom} degrees of freedom")
    entry = max(k for k in _T95 if k <= degrees_of_freedom)
    return Decimal(_T95[entry])
