"""What drivers are built from, so that a new one is a framer, a codec and a profile.

Everything here is pure and knows no wire protocol: presses told apart, commands sent and their
answers awaited, the parts of profiles that all families have. A driver may do without it.
"""

from acquire.driverkit.framed import Decoder, FramedDriver
from acquire.driverkit.framer import Framer
from acquire.driverkit.heard import NO_FLAGS, Heard, Means
from acquire.driverkit.manners import Ask, Manners, PressRules, PullRules, StreamRules

__all__ = [
    "NO_FLAGS",
    "Ask",
    "Decoder",
    "FramedDriver",
    "Framer",
    "Heard",
    "Manners",
    "Means",
    "PressRules",
    "PullRules",
    "StreamRules",
]
