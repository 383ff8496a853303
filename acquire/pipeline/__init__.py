"""From an instrument's thread to the store: session, desk, recorder."""
