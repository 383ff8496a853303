"""A trial as the store holds it: frozen rows, and their way out of the store."""
