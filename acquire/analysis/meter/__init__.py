"""What errors of meter, sled and light do to a result, as lines of its budget. Pure; any thread."""
