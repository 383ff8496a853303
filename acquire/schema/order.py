"""Where in its file a fault lies, so that faults are told in the order of the file. Any thread."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.schema.words import Place


class FileOrder:
    """The order of a table and all below it; keys are counted once, however often it is asked."""

    def __init__(self, table: object) -> None:
        self._table = table
        self._places: dict[int, dict[object, int]] = {}

    def rank(self, at: Place) -> tuple[int, ...]:
        """The position of each step; what is not there comes last."""
        rank: list[int] = []
        table = self._table
        for step in at:
            if isinstance(table, Mapping) and step in table:
                rank.append(self._place(table, step))
                table = table[step]
            elif isinstance(table, list) and isinstance(step, int) and step < len(table):
                rank.append(step)
                table = table[step]
            else:
                rank.append(len(table) if isinstance(table, Mapping | list) else 0)
                break
        return tuple(rank)

    def _place(self, table: Mapping[object, object], key: object) -> int:
        places = self._places.get(id(table))
        if places is None:
            places = self._places[id(table)] = {name: place for place, name in enumerate(table)}
        return places[key]
