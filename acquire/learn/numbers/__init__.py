"""Numbers somewhere in bytes: how they are read, and how far they are believed. Pure."""
