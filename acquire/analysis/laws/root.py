"""The crossing of a monotone function, found between two bounds.

A few evaluations suffice for the smooth functions of this package. Written out because importing
scipy.optimize takes longer than all the results of a trial. Never leaves its bounds. Any thread.
"""

from __future__ import annotations

from collections.abc import Callable

_MOST_STEPS = 200


def crossing(
    function: Callable[[float], float], low: float, high: float, *, rel: float = 1e-12
) -> float:
    """The x in [low, high] where `function` changes sign, to `rel` of |x|.

    T. R. Chandrupatla, Adv. Eng. Software 28 (1997) 145 (from memory): inverse quadratic
    interpolation where the last three points allow it, else halving; the bounds always enclose
    the crossing. Raises ValueError where both ends have the same sign.
    """
    a, b = high, low
    f_a, f_b = function(a), function(b)
    if f_a == 0:
        return a
    if f_b == 0:
        return b
    if (f_a > 0) == (f_b > 0):
        raise ValueError(f"no crossing between {low} and {high}: {f_b} and {f_a}")
    part = 0.5
    for _ in range(_MOST_STEPS):
        x = a + part * (b - a)
        f_x = function(x)
        if (f_x > 0) == (f_a > 0):
            c, f_c = a, f_a
        else:
            c, f_c = b, f_b
            b, f_b = a, f_a
        a, f_a = x, f_x
        best, f_best = (a, f_a) if abs(f_a) < abs(f_b) else (b, f_b)
        limit = (rel * abs(best) + 5e-324) / max(abs(b - c), 5e-324)
        if f_best == 0 or limit > 0.5:
            return best
        part = _next_part((a, f_a), (b, f_b), (c, f_c))
        part = min(1 - limit, max(limit, part))
    return best


def _next_part(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Where between a and b to look next: by the inverse parabola if it is sound, else halfway."""
    (x_a, f_a), (x_b, f_b), (x_c, f_c) = a, b, c
    xi = (x_a - x_b) / (x_c - x_b)
    phi = (f_a - f_b) / (f_c - f_b)
    if not (phi**2 < xi and (1 - phi) ** 2 < 1 - xi):
        return 0.5
    return f_a / (f_b - f_a) * f_c / (f_b - f_c) + (x_c - x_a) / (x_b - x_a) * f_a / (
        f_c - f_a
    ) * f_b / (f_c - f_b)
