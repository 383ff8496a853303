"""One question after the other: given as an option, asked of a person, or taken as proposed.

What an option gives wrongly is asked again where a person is there; where nobody is, all faults are
told together. Main thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol, TypeVar

from acquire.cli.spoken import say
from acquire.cli.trial.parsing import FaultyFiles
from acquire.errors import Fault, SettingsError
from acquire.visible import visible

Parsed = TypeVar("Parsed")

_LONGEST_SHOWN = 80


class Person(Protocol):
    """Whoever answers; `default` is what an empty answer means, and is shown."""

    def ask(self, question: str, default: str) -> str: ...

    def tell(self, lines: Iterable[str]) -> None: ...


class AtTerminal:
    """The person at this terminal."""

    def ask(self, question: str, default: str) -> str:
        from rich.console import Console  # noqa: PLC0415 - slow
        from rich.prompt import Prompt  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        # As Text: what stands in brackets is no instruction to rich.
        shown = Text(visible(question))
        console = Console(highlight=False)
        if default:
            return Prompt.ask(shown, console=console, default=default)
        return Prompt.ask(shown, console=console, default="", show_default=False)

    def tell(self, lines: Iterable[str]) -> None:
        say(lines)


class Asking:
    """Gives the answers; `person` is None where nobody can be asked."""

    def __init__(self, person: Person | None) -> None:
        self._person = person
        self._faults: list[Fault] = []
        self.typed: list[tuple[str, str]] = []
        """What a person typed that could be used, by option; what Enter took is not in it."""

    @property
    def is_asked(self) -> bool:
        return self._person is not None

    def tell(self, lines: Iterable[str]) -> None:
        """Say something between two questions, to whoever is there."""
        if self._person is not None:
            self._person.tell(lines)
        else:
            say(lines)

    def one(
        self,
        option: str,
        given: str | None,
        question: str,
        default: str | None,
        parse: Callable[[str], Parsed],
    ) -> Parsed | None:
        """One answer. None where there is none: a fault is noted then.

        `default` is None where an answer must be given. `parse` raises ValueError with what is
        wanted.
        """
        text = given
        if text is None and self._person is None:
            if default is None:
                self.fault(option, "nothing", f"{question[:1].lower()}{question[1:]}")
                return None
            text = default
        while True:
            if text is None:
                assert self._person is not None
                text = self._person.ask(question, default or "")
            try:
                answer = parse(text)
                if given is None and text != (default or ""):
                    self.typed.append((option, text))
                return answer
            except FaultyFiles as wrong:
                if self._person is None:
                    self._faults += [f._replace(path=f"{option} {f.path}") for f in wrong.faults]
                    return None
                self._person.tell(map(str, wrong.faults))
                text = None
            except ValueError as wrong:
                if self._person is None:
                    self.fault(option, shown(text), str(wrong))
                    return None
                self._person.tell([f"got {shown(text)}, wanted {wrong}"])
                text = None

    def several(
        self,
        option: str,
        given: Sequence[str],
        question: str,
        default: Sequence[str],
        parse: Callable[[str], Parsed],
    ) -> list[Parsed]:
        """Answers until an empty one. One fault an answer that cannot be used.

        Without any the default stands; where that is empty, too, one has to be given.
        """
        if given or self._person is None:
            return self._all(option, given or default, question, parse)
        found: list[Parsed] = []
        while True:
            proposed = default[0] if default and not found else ""
            more = " (Enter: no more)" if found else ""
            text = self._person.ask(f"{question}{more}", proposed)
            if not text.strip():
                if found:
                    return found
                self._person.tell(["at least one is wanted"])
                continue
            for part in self._parts(question, text):
                try:
                    found.append(parse(part))
                    self.typed.append((option, part))
                except ValueError as wrong:
                    self._person.tell([f"got {shown(part)}, wanted {wrong}"])

    def _parts(self, question: str, text: str) -> list[str]:
        """The answer, or the several that a person gave in one with commas, if they say so."""
        parts = [part.strip() for part in text.split(",") if part.strip()]
        if len(parts) < 2:
            return [text]
        assert self._person is not None
        listed = ", ".join(map(shown, parts))
        ask = f"{question}: is that {len(parts)} ({listed}), y, or one name with commas, n"
        return parts if self._person.ask(ask, "y").strip().casefold().startswith("y") else [text]

    def _all(
        self, option: str, texts: Sequence[str], question: str, parse: Callable[[str], Parsed]
    ) -> list[Parsed]:
        if not texts:
            self.fault(option, "nothing", f"{question[:1].lower()}{question[1:]}, once for each")
        found: list[Parsed] = []
        for text in texts:
            try:
                found.append(parse(text))
            except ValueError as wrong:
                self.fault(option, shown(text), str(wrong))
        return found

    def fault(self, option: str, got: str, wanted: str) -> None:
        self._faults.append(Fault(option, got, wanted))

    def settle(self) -> None:
        """Raises `SettingsError` with all faults so far."""
        if self._faults:
            raise SettingsError(
                "the trial as it is wanted",
                self._faults,
                next_step="give these options otherwise; coatbench trial new --help explains each",
            )


def shown(text: str) -> str:
    """An answer in quotes, not all of a long one."""
    short = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}..."
    return f'"{short}"' if text else "nothing"
