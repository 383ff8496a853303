"""Names of the calls that the server knows itself; all others are told by `calls`."""

HELLO = "hello"
"""Shows the token and asks for nothing: a caller that has said it is no stranger any more."""

TAKE = "take"
TYPE = "type"
STOP = "stop"
WATCH = "watch"
STATUS = "status"
