"""Which bytes of a frame are the number on the display, and what no press has shown. Pure."""
