"""The recorder: the one thread through which everything reaches the store.

Batches of the instruments and calls of people wait in one bounded queue. The recorder takes
whatever is waiting, lets the desk decide, commits all of it in one transaction, and only then
publishes the stored rows and answers the callers. A lone reading is not kept waiting.

When the store cannot write, the recorder stops for good: it publishes nothing more, fails every
call, and tells `on_stopped`. Acquiring without recording is the one forbidden state.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

from acquire.clock import Clock
from acquire.errors import CoatbenchError, Refused, StoreUnwritable
from acquire.model import Batch, Instant
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.opening import open_desk
from acquire.store.rows import Row
from acquire.store.writer import StoreWriter

QUEUE_LIMIT = 1024
GROUP_LIMIT = 256
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
        queue_limit: int = QUEUE_LIMIT,
    ) -> None:
        self._desk = desk
        self._writer = writer
        self._clock = clock
        self._publish = publish
        self._on_stopped = on_stopped
        self._waiting: queue.Queue[Batch | _Call | None] = queue.Queue(queue_limit)
        self.failure: CoatbenchError | None = None

    # -- from any thread -------------------------------------------------------------------------

    def put(self, batch: Batch, timeout_s: float) -> bool:
        """Hand over a batch; False if the queue stayed full until the deadline."""
        if self.failure is not None:
            return False
        try:
            self._waiting.put(batch, timeout=timeout_s)
        except queue.Full:
            return False
        return True

    def ask(self, act: Act, timeout_s: float = 10.0) -> dict[str, object]:
        """Run an act on the desk and give its reply once its rows are on disk.

        Raises what the act raises, `StoreUnwritable` once recording has stopped, and TimeoutError
        if the recorder does not answer in time.
        """
        if self.failure is not None:
            raise self.failure
        call = _Call(act)
        try:
            self._waiting.put(call, timeout=timeout_s)
        except queue.Full:
            raise TimeoutError from None
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
        """Let the thread end after what is waiting has been recorded."""
        while self.failure is None:
            try:
                self._waiting.put(None, timeout=0.1)
            except queue.Full:
                continue
            return

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
                    got=repr(error),
                    next_step="start coatbench serve again and report the fault",
                )
            )
            raise

    def step(self, wait_s: float) -> bool:
        """Take what is waiting (for at most `wait_s` if nothing is), record and publish it.

        Gives False when told to stop. Tests call this instead of starting the thread.
        """
        rows: list[Row] = []
        going_on = True
        try:
            item = self._waiting.get(timeout=wait_s) if wait_s > 0 else self._waiting.get_nowait()
        except queue.Empty:
            item = None
            self._commit(self._desk.keeper.tick(self._clock.now()))
            self._writer.rest()
            return True
        taken = 0
        while True:
            if item is None:
                going_on = False
                break
            if isinstance(item, _Call):
                # A call sees a store that holds everything before it, and is answered alone.
                before, rows = rows, []
                self._answer(item, before)
            else:
                rows += self._desk.take_in(item)
                if self._desk.keeper.failed_since_settling:
                    self._commit(rows)
                    rows = []
            taken += 1
            if taken >= GROUP_LIMIT:
                break
            try:
                item = self._waiting.get_nowait()
            except queue.Empty:
                break
        self._commit(rows)
        return going_on

    def _answer(self, call: _Call, before: list[Row]) -> None:
        try:
            self._commit(before)
            now = self._clock.now()
            self._commit(self._desk.keeper.tick(now))
            if not call.answer.set_running_or_notify_cancel():
                return
            reply, rows = self._act(call, now)
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

    @staticmethod
    def _act(call: _Call, now: Instant) -> Answer:
        """Run an act. A fault of the program in one call must not end the recording."""
        try:
            return call.act(now)
        except CoatbenchError:
            raise
        except Exception as error:
            raise Refused(
                "the call failed by a fault of the program",
                reason="fault",
                got=repr(error)[:300],
                next_step="report the fault with what was asked",
            ) from error

    def _commit(self, rows: list[Row]) -> None:
        if rows:
            self._writer.append(rows)
            self._desk.settle()
            self._publish(rows)

    def _fail(self, error: CoatbenchError) -> None:
        self.failure = error
        while True:
            try:
                item = self._waiting.get_nowait()
            except queue.Empty:
                break
            if isinstance(item, _Call):
                item.fail(error)
        self._on_stopped(error)
