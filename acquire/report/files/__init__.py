"""Files and folders that are written whole or not at all. The thread of who writes."""
