"""Whether the pieces of a bench serve the policies of its instruments. Pure; any thread.

Policy and pieces may have faults of their own: what is sound of them is looked at all the same,
so that one message tells everything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from typing import NamedTuple

from acquire.errors import Fault
from acquire.model import Certificate, Piece, PieceKind, at_channel
from acquire.schema import Unsound, either, is_whole, show, sound
from acquire.settings.pieces import QUANTITY_OF, PieceTable
from acquire.settings.policy import NO_LINE, PolicyFile, shortly
from acquire.units import as_entered, canonical, convert, normalise

_SURE_95 = Decimal("1.96")
"""The factor for 95 % of a normal distribution, the least any check is judged with."""


class Shelf(NamedTuple):
    """The pieces of a bench file by their ids; `is_whole` says that each has a sound id."""

    tables: Mapping[str, tuple[int, PieceTable]]
    is_whole: bool

    def piece(self, name: str) -> Piece | None:
        """The piece, if it is there and has no fault of its own."""
        found = self.tables.get(name)
        return found[1].piece() if found is not None and is_whole(found[1]) else None

    def kind(self, name: str) -> PieceKind | None:
        """Of which kind a piece is, as far as that is sound."""
        found = self.tables.get(name)
        return next((t.kind for _, t in sound([found[1]], "kind")), None) if found else None


def shelf(tables: list[PieceTable]) -> Shelf:
    """The pieces that can be named. The first of an id counts; the others are faults."""
    found: dict[str, tuple[int, PieceTable]] = {}
    for index, table in sound(tables, "id"):
        found.setdefault(table.id, (index, table))
    return Shelf(found, len(list(sound(tables, "id"))) == len(tables))


def fit_faults(label: str, name: str, file: PolicyFile, pieces: Shelf) -> Iterator[Fault]:
    """What keeps a check by this policy from being passed, or from meaning anything, with these.

    `label` goes before paths in the policy's file, `name` is what the policy is called.
    """
    fit = _Fit(label, name, file, pieces)
    for look in (fit.pieces_are_there, fit.pieces_serve, fit.limits_hold, fit.line, fit.range_):
        # Each goes as far as the files are sound.
        with suppress(Unsound):
            yield from look()


class _Fit:
    def __init__(self, label: str, name: str, file: PolicyFile, pieces: Shelf) -> None:
        self._label, self._name, self._file, self._pieces = label, name, file, pieces

    def pieces_are_there(self) -> Iterator[Fault]:
        known = self._pieces.tables
        for index, step in sound(self._file.step, "piece"):
            path = f"{self._label}step[{index}].piece"
            if step.piece not in known and self._pieces.is_whole:
                there = f"here: {either(known, 'and')}" if known else "there are none"
                yield Fault(path, show(step.piece), f"a [[piece]] of the bench ({there})")
            elif not self._is_of_kind(step.piece):
                kinds = [kind for kind, of in QUANTITY_OF.items() if of is self._file.quantity]
                got = f"{show(step.piece)}, a {self._pieces.kind(step.piece)}"
                fitting = (
                    " or ".join(kinds)
                    if len(kinds) < 3
                    else f"{', '.join(kinds[:-1])} or {kinds[-1]}"
                )
                yield Fault(path, got, f"a piece for {self._file.quantity}: a {fitting}")

    def pieces_serve(self) -> Iterator[Fault]:
        """A certificate at every channel, and less doubt than the limit."""
        file = self._file
        for index, step in sound(file.step, "piece"):
            piece = self._piece(step.piece)
            if piece is None:
                continue
            there = f"piece[{self._pieces.tables[step.piece][0]}]"
            for channel in file.channels:
                what = f"{file.quantity}{at_channel(channel)}"
                certificate = piece.certificate(file.quantity, channel)
                if certificate is None:
                    wanted = f"one for {what}, which policy {self._name} reads it at"
                    yield Fault(f"{there}.certificate", "no certificate that fits", wanted)
                    continue
                with suppress(Unsound):
                    path = f"{self._label}step[{index}].limit"
                    least = self._own(_SURE_95 * self._doubt(certificate))
                    if step.limit <= least:
                        wanted = (
                            f"more than {least:.3g}: the certificate of {piece.id} for {what} and "
                            "the display leave that much doubt, so the check could never pass"
                        )
                        yield Fault(path, show(step.limit), wanted)

    def limits_hold(self) -> Iterator[Fault]:
        """What is wider than the highest piece, a meter that shows nothing would keep."""
        file = self._file
        pieces = [self._piece(step.piece) for _, step in sound(file.step, "piece")]
        if len(pieces) < len(file.step) or None in pieces:
            return
        highest = max((c.value for p in pieces if p is not None for c in self._of(p)), default=None)
        if not highest:
            return
        own = self._own(highest)
        wanted = (
            f"less than {shortly(own)} {file.own_unit}, the highest certified value of the "
            "check: with it a meter that shows 0 would pass"
        )
        wide = [*file.limits()]
        told = {fault.path for fault in file.no_limit_is_as_wide_as_the_scale()}
        for path, limit in wide:
            if limit >= own and path not in told:
                yield Fault(self._label + path, show(limit), wanted)

    def line(self) -> Iterator[Fault]:
        """A straight line takes a piece between its ends to be judged."""
        file = self._file
        if file.linearity_limit is None or len(file.step) < 2:
            return
        for channel in file.channels:
            values: set[Decimal] = set()
            unknown = 0
            for step in file.step:
                name = step.__dict__.get("piece")
                piece = None if name is None else self._piece(name)
                found = None if piece is None else piece.certificate(file.quantity, channel)
                if found is not None:
                    values |= {found.value} if found.value > 0 else set()
                else:
                    # It may turn out to be one that serves.
                    unknown += 1
            if len(values) + unknown < 2:
                path, got = f"{self._label}linearity_limit", show(file.linearity_limit)
                yield Fault(path, got, f"{NO_LINE}{at_channel(channel)}")
                return

    def range_(self) -> Iterator[Fault]:
        """What a pass covers must hold what it was checked at."""
        file = self._file
        if file.range is None:
            return
        low, high = file.range
        for _, step in sound(file.step, "piece"):
            piece = self._piece(step.piece)
            for certificate in () if piece is None else self._of(piece):
                value = self._own(certificate.value)
                if not low <= value <= high:
                    got = f"{low} to {high} {file.own_unit}"
                    wanted = (
                        f"a range with every piece of the policy in it: {step.piece}"
                        f"{at_channel(certificate.channel)} is certified {as_entered(value)}"
                    )
                    yield Fault(f"{self._label}range", got, wanted)
                    return

    def _is_of_kind(self, name: str) -> bool:
        """False only where it is sure that a piece is of another quantity."""
        kind = self._pieces.kind(name)
        return kind is None or QUANTITY_OF[kind] is self._file.quantity

    def _piece(self, name: str) -> Piece | None:
        """The piece, if all is known of it and it is of the policy's quantity."""
        return self._pieces.piece(name) if self._is_of_kind(name) else None

    def _of(self, piece: Piece) -> list[Certificate]:
        file = self._file
        found = (piece.certificate(file.quantity, channel) for channel in file.channels)
        return [certificate for certificate in found if certificate is not None]

    def _doubt(self, certificate: Certificate) -> Decimal:
        file = self._file
        step = normalise(file.resolution, file.own_unit, file.quantity)[0]
        return (certificate.standard_uncertainty**2 + step**2 / 12).sqrt()

    def _own(self, kept: Decimal) -> Decimal:
        """A figure in the unit of the file."""
        return convert(kept, canonical(self._file.quantity), self._file.own_unit)
