"""The standard input of a device's process, made into a socket that the loop can wait on.

Not every system can wait on its standard input together with a port; on a socket all can. A
thread pours the one into the other. It ends with the input, or with the process.
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import threading


def open_control(input_fd: int) -> socket.socket:
    """A socket that gives what comes on the descriptor, and its end."""
    outlet, inlet = socket.socketpair()
    # As a daemon: at `quit` it may be inside a read that nobody will ever answer.
    threading.Thread(target=_pour, args=(input_fd, inlet), name="control", daemon=True).start()
    return outlet


def _pour(input_fd: int, inlet: socket.socket) -> None:
    with inlet, contextlib.suppress(OSError):
        while data := os.read(input_fd, 65536):
            inlet.sendall(data)


def answer(item: dict[str, object]) -> None:
    """Write one JSON line on the standard output, at once. Raises BrokenPipeError."""
    # Past the buffer of sys.stdout: what stays in it would be complained of once more at the end.
    data = json.dumps(item).encode() + b"\n"
    while data:
        data = data[os.write(1, data) :]
