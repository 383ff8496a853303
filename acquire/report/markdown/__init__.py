"""The report of a trial as Markdown: the tree of its page, and how each element is written."""
