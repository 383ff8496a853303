"""How far a meter is off, and what its own adjustment does about it. Pure."""

from __future__ import annotations

from dataclasses import dataclass

GAIN_MIN, GAIN_MAX = 0.1, 10.0
OFFSET_MAX_GU = 100.0

# Below this a piece tells the meter about its zero, above about its gain.
DARK_GU = 10.0


@dataclass
class Drift:
    """One geometry of a meter: what it takes for the gloss is gain x gloss + offset."""

    gain: float = 1.0
    offset: float = 0.0
    gain_per_press: float = 1.0
    offset_per_press: float = 0.0

    def applied(self, true: float) -> float:
        """What the meter takes a gloss for."""
        return self.gain * true + self.offset

    def shift(self, gain: float, offset: float) -> None:
        """Drift once, on top of what has drifted already; bounded, as an electronics is."""
        self.gain = min(max(self.gain * gain, GAIN_MIN), GAIN_MAX)
        self.offset = min(max(self.offset + offset, -OFFSET_MAX_GU), OFFSET_MAX_GU)

    def creep(self) -> None:
        """One press goes by."""
        self.shift(self.gain_per_press, self.offset_per_press)

    def adjust(self, true: float, certified: float) -> None:
        """Read this spot as its certificate says from now on.

        A dark piece sets the zero, a bright one the gain: one piece can tell only one of them.
        Raises ValueError when the piece cannot be what its certificate says.
        """
        if certified < DARK_GU:
            offset = certified - self.gain * true
            if abs(offset) > OFFSET_MAX_GU:
                raise ValueError(f"{true:.1f} GU is too bright")
            self.offset = offset
            return
        gain = (certified - self.offset) / true if true > 0 else 0.0
        if not GAIN_MIN <= gain <= GAIN_MAX:
            raise ValueError(f"{true:.1f} GU is too far away")
        self.gain = gain
