"""What is told of a lesson: what is believed, what is open, and what to do about it. Pure."""
