"""Their own tests run where they are installed, and not in this suite."""

collect_ignore_glob = ["*"]
