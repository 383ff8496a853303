"""A learned profile: as text, and held against its presses and what a person said. Pure."""
