"""Why nothing is learned of some presses, and what whoever reads it can do about it. Pure."""

from __future__ import annotations

from acquire.learn.lines.lines import LONGEST_LINE

UNSAYABLE = (
    "the numbers stand in the text of every press, and what stands about them changes from press "
    "to press in a way that no pattern says"
)

OTHER_LINES = (
    "set the meter to send less beside its numbers, or always as many decimals and fields, if it "
    "can, and learn from such presses; or write the profile by hand: copy "
    "config/profiles/gloss-press.toml, and drivers/line/WIRE.md says what a pattern may have"
)

GROUPED = (
    "a sign stands between the thousands of a number, as in {}, and what stands about it is built "
    "otherwise from press to press, or may be a part of it: numbers below a thousand can be "
    "learned, and those from there on will be noise"
)
LEAVE_OUT = (
    "leave out the presses that show a thousand or more (--shown -, or Enter at the question), or "
    "set the meter to another unit"
)

COARSE = (
    "{} was shown and {} sent: the meter sends fewer digits of such a number than it shows, so "
    "that what is read would be another one; smaller numbers can be learned, and those from there "
    "on will be noise"
)
TOO_FEW_DIGITS = (
    "numbers of {:f} or more are sent with fewer digits than the display shows, so that what is "
    "read would be another one, and of a meter with several units no limit ends them"
)
SMALLER = (
    "leave out such presses (--shown -, or Enter at the question), or set the meter to send more "
    "digits, if it can"
)

NOT_STILL = (
    "{} was said to move, and no number beside that of the display and its geometries was this at "
    "every press so far, or more than one was, so that nobody could say which"
)

BESIDE = (
    "what a press consists of cannot be said: {}. A line that says that a press failed could stand "
    "there and be taken for nothing; more presses may tell, or the profile is to be written by "
    "hand (in_press)"
)

TOO_LONG = (
    "the number is in no line that a profile can read: there are lines of {} bytes, longer than "
    f"{LONGEST_LINE} bytes"
)


OTHER_FORM = (
    "set the meter to another form of its numbers, if it has one; else it needs a driver of its "
    "own (DEVELOPERS.md)"
)
BYTE_BEHIND = (
    "a text up to ETX (03) and one byte behind it, which may be a checksum, in messages of several "
    "lengths: no profile can say where such a message ends"
)
OTHER_SUM = (
    "set the meter to numbers of a fixed width, to a checksum in digits or to none, if it can; "
    "else it needs a driver of its own (DEVELOPERS.md)"
)
NO_LIMIT = (
    "name the limits of its display by --least and --most, or leave them out; or look whether the "
    "number was mistyped"
)
SHORTER = (
    "set the meter to send shorter lines, if it can; else it needs a driver of its own "
    "(DEVELOPERS.md)"
)
ABOVE_ZERO = (
    "look whether each number was typed as it was shown; if so, leave out the presses below zero "
    "(--shown -, or Enter at the question) and learn the others: those below zero will be noise. "
    "Or write the profile by hand: copy config/profiles/gloss-press.toml, and [sign] says what its "
    "signs mean (drivers/line/WIRE.md)"
)
IN_PRESS = (
    "press once more where these numbers differ, if they ever do; else write the profile by hand: "
    "copy config/profiles/gloss-press.toml, with in_press for the line that counts"
)
LENGTHS = (
    "the number stands in digits, which make a press {} bytes long or {}, and beside it are bytes "
    "that are no text: no profile reads frames of several lengths"
)
NO_END = (
    "the number stands in digits, in a text of {} bytes or {} that nothing ends: no profile can "
    "say where it does"
)
OTHER_END = (
    "set the meter to end its lines, as by CR LF; or leave the presses of the rarer length out (- "
    "in place of their number) to learn the others: those will be noise"
)
OTHER_LENGTHS = (
    "leave the presses of the rarer length out (- in place of their number) to learn the others: "
    "those will be noise. Or set the meter so that it fills its numbers up, or sends text"
)
