"""Which number of which line is the one on the display, and how it is written. Pure."""
