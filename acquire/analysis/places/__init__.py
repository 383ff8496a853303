"""How treatments stand: places with ties, and the chances of each. Pure; any thread."""
