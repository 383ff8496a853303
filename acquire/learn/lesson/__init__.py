"""The way in: from presses to a profile or a reason, and presses that are none of it. Pure."""
