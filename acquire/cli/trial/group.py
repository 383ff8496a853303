"""The group of commands; each lives in a module of its own. Main thread."""

from __future__ import annotations

from acquire.cli.lazy import Entry, LazyGroup

_HERE = "acquire.cli.trial"

trial = LazyGroup(
    name="trial",
    help="""Plan a trial, see how it stands, and open its sealed key.

    \b
    Example:  coatbench trial new
              coatbench trial show gelcoat-1
    """,
    context_settings={"help_option_names": ["-h", "--help"]},
    sections={
        "Plan": {
            "new": Entry(f"{_HERE}.new:new", "Plan a trial: a few questions, or all by options."),
            "check": Entry(f"{_HERE}.checking:check", "Look through a trial file."),
        },
        "Follow": {
            "show": Entry(f"{_HERE}.showing:show", "The panel, what is measured, what is next."),
            "give-up": Entry(f"{_HERE}.closing:give_up", "Set down that a stage will not be read."),
            "close": Entry(f"{_HERE}.closing:close", "End a trial: nothing of it is due any more."),
            "reopen": Entry(f"{_HERE}.closing:reopen", "Open a closed trial again."),
        },
        "Blind trials": {
            "key": Entry(f"{_HERE}.sealing:key", "Tell one person which product each code is."),
            "unseal": Entry(f"{_HERE}.sealing:unseal", "Tell everybody, for good."),
        },
    },
)
"""A trial."""
