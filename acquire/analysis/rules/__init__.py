"""How results came about and what to hold beside them, in sentences. Pure; any thread."""
