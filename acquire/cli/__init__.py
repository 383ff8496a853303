"""The command line. Nothing heavy is imported before a command is chosen."""

from acquire.cli.entry import main

__all__ = ["main"]
