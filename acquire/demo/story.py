"""How the demo tells what happens: chapters, and a progress display where there is a terminal."""

from __future__ import annotations

from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.text import Text


class Story:
    """Prints chapters and, beneath the present one, how far it is. One thread."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._progress = Progress(
            TextColumn("   {task.description}"),
            BarColumn(bar_width=24),
            MofNCompleteColumn(),
            TextColumn("{task.fields[last]}"),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        )
        self._chapter = 0

    def __enter__(self) -> Story:
        self._progress.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self._progress.stop()

    def chapter(self, title: str) -> None:
        self._chapter += 1
        self._console.print(Text(f"{self._chapter:>2}  {title}", style="bold"))

    def say(self, text: str, style: str = "") -> None:
        """One remark, indented under the chapter."""
        self._console.print(Text(text, style=style), soft_wrap=not self._console.is_terminal)

    def tell(self, text: str, style: str = "") -> None:
        for line in text.splitlines():
            self.say(f"    {line}", style)

    def command(self, line: str) -> None:
        """A command line that is typed."""
        self.say(f"    $ {line}", "bold")

    def count(self, what: str, total: int) -> Counter:
        """A counter of `total` readings, shown while it runs."""
        return Counter(self._progress, what, total)


class Counter:
    """Counts readings as they arrive."""

    def __init__(self, progress: Progress, what: str, total: int) -> None:
        self._progress = progress
        self._task = progress.add_task(what, total=total, last="")

    def one(self, last: str) -> None:
        self._progress.update(self._task, advance=1, last=last)

    def done(self) -> None:
        self._progress.remove_task(self._task)
