"""The recorder: the one thread through which everything reaches the store.

Batches of the instruments and calls of people wait in bounded lanes. The recorder takes a group of
what is waiting, lets the desk decide, commits all of it in one transaction, and only then
publishes the stored rows and answers the callers. A lone reading is not kept waiting.

When the store cannot write, the recorder stops for good: it publishes nothing more, fails every
call, and tells `on_stopped`. Acquiring without recording is the one forbidden state.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

from acquire.clock import Clock
from acquire.errors import CoatbenchError, Refused, StoreUnwritable, told
from acquire.model import Batch, Instant
from acquire.pipeline.aim import aimed_anew, aims
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.lanes import LANE_LIMIT, Lanes
from acquire.pipeline.opening import open_desk
from acquire.store.rows import Row
from acquire.store.writer import StoreWriter

TICK_S = 0.5
ANSWER_WAIT_S = 0.5

Act = Callable[[Instant], Answer]
Publish = Callable[[Sequence[Row]], None]


@dataclass(slots=True)
class _Call:
    act: Act
    answer: Future[dict[str, object]] = field(default_factory=Future)

    def fail(self, error: Exception) -> None:
        """Answer with an error, if anybody still waits for an answer."""
        if not self.answer.cancelled():
            self.answer.set_exception(error)


class Recorder:
    """Owns the desk and the writer while its thread runs.

    `publish` gets every committed group of rows, in order, on the recorder's thread; it must not
    block. `on_stopped` gets the error that ended recording.
    """

    def __init__(
        self,
        desk: Desk,
        writer: StoreWriter,
        clock: Clock,
        publish: Publish,
        on_stopped: Callable[[CoatbenchError], None],
        lane_limit: int = LANE_LIMIT,
    ) -> None:
        self._desk = desk
        self._writer = writer
        self._clock = clock
        self._publish = publish
        self._on_stopped = on_stopped
        self._waiting: Lanes[_Call] = Lanes(lane_limit)
        self._ticked = clock.now()
        self.failure: CoatbenchError | None = None

    # -- from any thread -------------------------------------------------------------------------

    def put(self, batch: Batch, timeout_s: float) -> bool:
        """Hand over a batch; False if its lane stayed full until the deadline, or after `stop`."""
        return self._waiting.put(batch, timeout_s)

    def ask(self, act: Act, timeout_s: float = 10.0) -> dict[str, object]:
        """Run an act on the desk and give its reply once its rows are on disk.

        Raises what the act raises, `StoreUnwritable` once recording has stopped, and TimeoutError
        if the recorder does not answer in time.
        """
        if self.failure is not None:
            raise self.failure
        call = _Call(act)
        if not self._waiting.call(call, timeout_s):
            raise self.failure or TimeoutError
        while True:
            try:
                return call.answer.result(min(timeout_s, ANSWER_WAIT_S))
            except TimeoutError:
                # A call that slipped in behind a recorder that has stopped is answered by nobody.
                if self.failure is not None:
                    raise self.failure from None
                timeout_s -= ANSWER_WAIT_S
                # What the caller was told did not happen must not happen later.
                if timeout_s <= 0 and call.answer.cancel():
                    raise
                timeout_s = max(timeout_s, ANSWER_WAIT_S)

    def stop(self) -> None:
        """Let the thread end after what is waiting has been recorded; nothing more is taken in."""
        self._waiting.close()

    # -- on the recorder's thread ------------------------------------------------------------------

    def open(self) -> None:
        """Write down the bench and what was found open. Call before `run`."""
        self._commit(open_desk(self._desk, self._clock.now()))

    def run(self) -> None:
        """The thread's body: until `stop`, or until the store cannot write."""
        try:
            while self.step(TICK_S):
                pass
        except CoatbenchError as error:
            self._fail(error)
        except Exception as error:
            self._fail(
                StoreUnwritable(
                    "recording has stopped by a fault of the program",
                    got=told(error),
                    next_step="start coatbench serve again and report the fault",
                )
            )
            raise

    def step(self, wait_s: float) -> bool:
        """Take what is waiting (for at most `wait_s` if nothing is), record and publish it.

        Gives False when told to stop. Tests call this instead of starting the thread.
        """
        group = self._waiting.take(wait_s)
        if not group:
            self._tick()
            self._writer.rest()
            return not self._waiting.is_done
        rows: list[Row] = []
        for item in group:
            if isinstance(item, _Call):
                # A call sees a store that holds everything before it, and is answered alone.
                before, rows = rows, []
                self._answer(item, before)
            else:
                rows += self._desk.take_in(item)
                if self._desk.keeper.unsettled:
                    self._commit(rows)
                    rows = []
        self._commit(rows)
        if self._clock.now().seconds_since(self._ticked) >= TICK_S:
            self._tick()
        return True

    def _tick(self) -> None:
        """Let time end what it ends, also while a line never rests."""
        self._ticked = self._clock.now()
        self._commit(self._desk.keeper.tick(self._ticked))

    def _answer(self, call: _Call, before: list[Row]) -> None:
        try:
            self._commit(before)
            now = self._clock.now()
            self._commit(self._desk.keeper.tick(now))
            if not call.answer.set_running_or_notify_cancel():
                return
            try:
                reply, rows = self._act(call, now)
            except CoatbenchError:
                self._commit(self._desk.refusals.take())
                raise
            self._commit(rows)
        except StoreUnwritable as error:
            call.fail(error)
            raise
        except CoatbenchError as error:
            call.fail(error)
        except Exception as error:
            call.fail(error)
            raise
        else:
            call.answer.set_result(reply)

    def _act(self, call: _Call, now: Instant) -> Answer:
        """Run an act. A fault of the program in one call must not end the recording."""
        desk = self._desk
        before, sitting_id = aims(desk.standings, desk.run), desk.sitting_id
        try:
            answer = call.act(now)
            aimed_anew(before, desk.standings, desk.run, now)
            return answer
        except CoatbenchError:
            # A sitting that it had opened is stored with no answer, so that there is none.
            desk.sitting_id = sitting_id
            raise
        except Exception as error:
            desk.sitting_id = sitting_id
            raise Refused(
                "the call failed by a fault of the program",
                reason="fault",
                got=told(error),
                next_step="report the fault with what was asked",
            ) from error

    def _commit(self, rows: list[Row]) -> None:
        if rows:
            self._writer.append(rows)
            settled = self._desk.settle(self._clock.now())
            if settled:
                self._writer.append(settled)
            self._publish([*rows, *settled])

    def _fail(self, error: CoatbenchError) -> None:
        self.failure = error
        self._waiting.close()
        while group := self._waiting.take(0):
            for item in group:
                if isinstance(item, _Call):
                    item.fail(error)
        self._on_stopped(error)
