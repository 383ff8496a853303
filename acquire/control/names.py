"""Names of the calls that are no act on the desk: the daemon and the server see to them."""

TAKE = "take"
STOP = "stop"
WATCH = "watch"
