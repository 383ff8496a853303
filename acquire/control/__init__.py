"""The daemon's door: a loopback socket, JSON lines, a token that only its user can read."""
