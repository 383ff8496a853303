"""Photos by path and hash; the file stays where it is. Runs on the desk's thread."""

from __future__ import annotations

from acquire.errors import NotFound
from acquire.model import Instant
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work, zones_named
from acquire.pipeline.desk import Desk
from acquire.store.work_rows import PhotoRow


class PhotoActs:
    """Photos as a person names them."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def keep(
        self,
        trial: str,
        stage: str,
        zone: str,
        path: str,
        sha256: str,
        size_bytes: int,
        text: str,
        at: Instant,
    ) -> Answer:
        """Write down that there is such a file; `stage` and `zone` may be empty."""
        desk = self._desk
        plan = plan_at_work(desk, trial)
        if stage and stage not in plan.stages:
            raise NotFound(
                f"trial {trial} has no stage {stage!r}",
                got=repr(stage),
                wanted=", ".join(plan.stages),
                next_step="name one of these",
            )
        if zone:
            zones_named(plan, [zone])
        known = any(p.sha256 == sha256 for p in desk.shelf.worked.photos(trial))
        row = PhotoRow(
            desk.ids.take(PhotoRow), at.utc_ns, desk.sitting_id, trial, stage, zone, path, sha256,
            size_bytes, text,
        )  # fmt: skip
        return Answer({"photo_id": row.id, "is_known": known}, [row])
