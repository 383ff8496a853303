"""The files a bench names: profiles and policies, beside the bench file or shipped. Any thread.

Profiles are also found in the packages that bring drivers (`acquire.settings.packaged`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from acquire.errors import Fault, SettingsError
from acquire.model import CheckPolicy
from acquire.schema import either, in_file_order, load_text, load_toml, parse_toml
from acquire.settings.packaged import Packaged, packaged_profiles
from acquire.settings.policy import Draft, draft_policy

PROFILES = "profiles"
POLICIES = "policies"


class Profile(NamedTuple):
    """A profile as parsed and as written; what is in it is the driver's business."""

    text: str
    table: Mapping[str, object]


NO_PROFILE = Profile("", {})

_OF_FILE = ".toml: "


def split_label(path: str) -> tuple[str, str]:
    """The label of the file before a fault's path, empty for the bench file's own; and the path."""
    label, sign, rest = path.partition(_OF_FILE)
    return (f"{label}.toml", rest) if sign else ("", path)


class Companions:
    """Finds each file once, reads it once, and gathers the faults of all of them.

    A file beside the bench file goes before all others of its name, and a shipped one before those
    of packages. Of two in packages none is taken: what is installed never decides how a meter is
    read. Faults bear the file before their path: ``policies/gloss-20.toml: step[0].limit``.
    """

    def __init__(
        self,
        beside: Path,
        shipped: Path,
        packaged: Callable[[], list[Packaged]] = packaged_profiles,
    ) -> None:
        self.beside = beside
        self._look_for_packaged = packaged
        self._packaged: list[Packaged] | None = None
        self._places = (("", beside), ("shipped ", shipped))
        self._profiles: dict[str, Profile | None] = {}
        self._policies: dict[str, Draft | None] = {}
        self._tables: dict[str, Mapping[str, object]] = {}
        self.faults: list[Fault] = []

    def has(self, room: str, name: str) -> bool:
        """Whether there is such a file, sound or not."""
        return self._find(room, name) is not None

    def names(self, room: str) -> str:
        """In words, the names there are."""
        found = {p.stem for _, place in self._places for p in (place / room).glob("*.toml")}
        found |= {one.name for one in self._of_packages()} if room == PROFILES else set()
        return either(sorted(found)) if found else f"none, since there is no {room}/*.toml"

    def label(self, room: str, name: str) -> str:
        """How a file is called in messages."""
        found = self._find(room, name)
        return f"{found[0] if found else ''}{room}/{name}.toml"

    def profile(self, name: str) -> Profile | None:
        """A profile; None if it is not there or no TOML."""
        if name not in self._profiles:
            self._profiles[name] = self._load_profile(name)
        return self._profiles[name]

    def policy(self, name: str) -> CheckPolicy | None:
        """A policy; None if it is not there or has faults."""
        found = self.draft(name)
        return None if found is None else found.policy

    def draft(self, name: str) -> Draft | None:
        """A policy as far as it is sound; None if it is not there or no TOML."""
        if name not in self._policies:
            self._policies[name] = self._load_policy(name)
        return self._policies[name]

    def in_order(self, faults: Iterable[Fault]) -> list[Fault]:
        """Faults of companions, those of each file together and in the order of the file."""
        found: dict[str, list[Fault]] = {}
        for fault in faults:
            label, path = split_label(fault.path)
            found.setdefault(label, []).append(fault._replace(path=path))
        return [
            fault._replace(path=f"{label}: {fault.path}")
            for label, own in found.items()
            for fault in in_file_order(own, self._tables.get(label, {}))
        ]

    def beside_of(self, label: str) -> Path | None:
        """Where a file of this label lies, if it lies beside the bench file."""
        path = self.beside / label
        return path if path.exists() else None

    def _load_profile(self, name: str) -> Profile | None:
        found = self._find(PROFILES, name)
        if found is None:
            return None
        try:
            text = load_text(found[1])
            return Profile(text, parse_toml(text, str(found[1])))
        except SettingsError as error:
            self._take(error, PROFILES, name)
            return None

    def _load_policy(self, name: str) -> Draft | None:
        found = self._find(POLICIES, name)
        if found is None:
            return None
        try:
            table = load_toml(found[1])
        except SettingsError as error:
            self._take(error, POLICIES, name)
            return None
        label = self.label(POLICIES, name)
        self._tables[label] = table
        draft = draft_policy(name, table, f"{label}: ")
        self.faults += draft.faults
        return draft

    def rivals(self, name: str) -> list[str]:
        """Which packages bring a profile of this name, if several do and it is nowhere else."""
        if any((place / PROFILES / f"{name}.toml").exists() for _, place in self._places):
            return []
        found = [one.origin for one in self._of_packages() if one.name == name]
        return found if len(found) > 1 else []

    def _of_packages(self) -> list[Packaged]:
        if self._packaged is None:
            self._packaged = self._look_for_packaged()
        return self._packaged

    def _find(self, room: str, name: str) -> tuple[str, Path] | None:
        for origin, place in self._places:
            path = place / room / f"{name}.toml"
            if path.exists():
                return origin, path
        for one in self._of_packages() if room == PROFILES else ():
            if one.name == name:
                return f"{one.origin} ", one.path
        return None

    def _take(self, error: SettingsError, room: str, name: str) -> None:
        label = self.label(room, name)
        self.faults += [fault._replace(path=f"{label}: {fault.path}") for fault in error.faults]
