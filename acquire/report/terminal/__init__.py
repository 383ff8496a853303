"""Results in plain lines for a terminal."""
