"""An attack on a real daemon: everything asked in an order by a seed, by hands that edit its files.

Honest work goes on in between, so that there is something to break. After each life of the daemon
its store is held against its seals, every check is judged again, the auditor looks at all that
counts, and what was decided before must stand as it stood. A store that somebody edited is named,
and is put back as it was before, as whoever keeps copies would.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from acquire.cli.faults import fault_lines
from acquire.control.client import Client
from acquire.control.door import Door
from acquire.daemon import running_daemon
from acquire.errors import CoatbenchError
from acquire.report.proof.rejudge import rejudge_all
from acquire.settings import load_bench
from acquire.store import StoreReader
from acquire.store.heads import heads_path
from acquire.store.verify import verify
from tests.attack import calls, commands, hands
from tests.attack.audit import audit
from tests.attack.bench import GOOD, Bench, staying
from tests.patience import PATIENCE_S

DECIDED = ("check_begin", "check_judgement", "piece_judgement", "linearity_judgement", "reading")
Act = Callable[[], None]


class Attack:
    """One attack; `run` gives every fault that was found. Leaves no process behind."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.chance = random.Random(seed)
        self.faults: list[str] = []
        self.done: list[str] = []
        self.bench = Bench(folder / "bench")
        self.other = Bench(folder / "other")
        self._other_door: Door | None = None
        self.folder = folder
        self._stale: list[str] = []
        self._decided: dict[tuple[str, int], tuple[object, ...]] = {}
        self._stayers: list[subprocess.Popen[str]] = []
        self._between: list[Act] = []
        self._older = folder / "older.sqlite"
        self._files = {
            path: path.read_text("utf-8")
            for path in (self.bench.file, self.bench.policy, self.bench.folder / "t1.txt")
        }
        self.counted = 0
        """Readings that count at the end: without any nothing would have been attacked."""
        self.called: set[str] = set()
        self.commanded: set[str] = set()

    # -- the whole --------------------------------------------------------------------------------

    def run(self, more: int = 0) -> list[str]:
        """Everything once, in a drawn order, and so many acts more."""
        try:
            with running_daemon(load_bench(self.other.file)):
                self._other_door = self.other.door
                self._attack(more)
            if (rows := _rows_asked(self.other.store)) != 0:
                self._fault(f"{rows} rows were asked into the store of another bench")
        finally:
            self._let_go(0)
            self.bench.end()
            self.other.end()
        return self.faults

    def _attack(self, more: int) -> None:
        self._start()
        self._older = self._keep_copy("older.sqlite")
        self.work()
        deck = self._deck()
        self.chance.shuffle(deck)
        # From here on a token of an earlier life is at hand.
        deck.insert(0, (self.kill.__name__, self.kill))
        self._between = list(self._changes())
        self.chance.shuffle(self._between)
        deck += [self.chance.choice(self._deck()) for _ in range(more)]
        for place, (name, act) in enumerate(deck):
            if not self.bench.runs:
                self._go_on("the daemon had ended")
            if place % 12 == 11:
                self.work()
            self.done.append(name)
            act()
            self._let_go(2)
        while self._between:
            self._stop()
            self._go_on("for the last changes")
        self._stop()
        self.hold("at the end")

    def _deck(self) -> list[tuple[str, Act]]:
        deck: list[tuple[str, Act]] = []
        for name in sorted(calls.SENSIBLE):
            for token in ("valid", "stale", "missing", "other"):
                deck.append((f"{name} {token}", lambda n=name, t=token: self.call(n, t, False)))
            if name != "stop":  # which looks at no arguments, and costs a life each time
                deck.append((f"{name} hostile", lambda n=name: self.call(n, "valid", True)))
        for name, lines in commands.LINES.items():
            for line in lines:
                told = f"coatbench {name} {' '.join(line)}"
                deck.append((told, lambda n=name, one=line: self.command(n, one)))
        return deck + [(act.__name__, act) for act in self._hands()]

    def _hands(self) -> tuple[Act, ...]:
        return (
            self.press_on_the_wire, self.spoil_the_door, self.edit_a_copy,
            self.edit_the_living_store, self.replace_the_living_store, self.unchecked_trial,
            self.edit_through_the_guards,
        )  # fmt: skip

    def _changes(self) -> tuple[Act, ...]:
        """What is done while no daemon runs, between two lives of it; each leaves it ready."""
        return (
            self.widen_the_policy, self.drop_a_piece, self.change_the_serial,
            self.change_certificates, self.edit_the_dead_store, self.withdraw_a_certificate,
        )  # fmt: skip

    # -- honest work ------------------------------------------------------------------------------

    def work(self) -> None:
        """A check, a run and some presses, as far as they are let."""
        with contextlib.suppress(CoatbenchError), self.bench.client() as client:
            self._try(client.call, "abandon_check", instrument="hand")
            client.call("climate", temperature_c=21, humidity_percent=50)
            client.call("begin_check", instrument="hand")
            bad = self.chance.random() < 0.15
            for value in GOOD:
                client.call(
                    "type", instrument="hand", text="94.4" if bad and value == "91.4" else value
                )
            self._try(client.call, "resume_run")
            self._try(
                client.call, "begin_run", text=calls.WIDE, source="trial.toml",
                stage=self.chance.choice(("bare", "cured")), instrument="hand",
            )  # fmt: skip
            for _ in range(self.chance.randint(1, 4)):
                client.call("type", instrument="hand", text=f"{self.chance.randint(790, 820) / 10}")
            if self.chance.random() < 0.3:
                client.call("void", reading_id=self._typed(client, "79.9"), reason="slipped")
            if self.chance.random() < 0.4:
                self._try(client.call, "finish_run")
                forgotten = self._typed(client, "80.7")
                if self.chance.random() < 0.3:
                    self._try(client.call, "readjusted", instrument="hand")
                self._try(
                    client.call, "assign", reading_id=forgotten, trial="gelcoat", zone="A2",
                    stage=self.chance.choice(("bare", "cured")), replicate=60 - forgotten % 25,
                    reason="forgotten",
                )  # fmt: skip

    @staticmethod
    def _typed(client: Client, text: str) -> int:
        """The number of a reading that is typed."""
        (row,) = client.call("type", instrument="hand", text=text)["rows"]
        return int(row["id"])

    @staticmethod
    def _try(call: Callable[..., object], name: str, **arguments: object) -> None:
        with contextlib.suppress(CoatbenchError):
            call(name, **arguments)

    # -- calls and commands -----------------------------------------------------------------------

    def call(self, name: str, token: str, is_hostile: bool) -> None:
        door = self.bench.door
        given = {
            "valid": door.token,
            "stale": self.chance.choice(self._stale),
            "missing": self.chance.choice((None, "", 0, [door.token])),
            "other": self._other_door.token if self._other_door else "",
        }[token]
        make = calls.hostile if is_hostile else lambda c, n: calls.SENSIBLE[n](c)
        arguments: object = make(self.chance, name)
        if is_hostile and self.chance.random() < 0.1:
            arguments = self.chance.choice(([], "x", None, 7))
        self.called.add(name)
        answer = calls.ask(door, given, name, arguments)
        if token != "valid":
            error = (answer or {}).get("error") or {}
            if error.get("reason") != "token":
                self._fault(f"{name} with a {token} token was answered {str(answer)[:200]}")
            return
        if fault := calls.fault_of(answer, name):
            self._fault(f"{fault}, asked with {str(arguments)[:300]}")
        if name == "stop" and (answer or {}).get("ok"):
            self._ended_in_order("after a call to stop")

    def command(self, name: str, line: tuple[str, ...]) -> None:
        self.commanded.add(name)
        if name in commands.STAYING:
            self._stayers.append(staying(self.bench, name, *line))
            return
        code, said = commands.typed(self.bench.file, [name, *line])
        if fault := commands.fault_of([name, *line], code, said):
            self._fault(fault)
        if name == "stop" and code == 0:
            self._ended_in_order("after coatbench stop")

    def _let_go(self, most: int) -> None:
        """Who waits for presses goes away in the midst of it."""
        while len(self._stayers) > most:
            process = self._stayers.pop(0)
            process.kill()
            said, _ = process.communicate(timeout=PATIENCE_S)
            if "Traceback" in said:
                self._fault(f"{' '.join(map(str, process.args))}: {said[-600:]}")  # type: ignore[arg-type]

    # -- the daemon's lives -----------------------------------------------------------------------

    def _start(self) -> None:
        said = self.bench.start()
        assert not said, said

    def kill(self) -> None:
        self._stale.append(self.bench.door.token)
        self.bench.kill()
        self._go_on("after a kill")

    def _ended_in_order(self, when: str) -> None:
        """The daemon was asked to end."""
        code, said = self.bench.ended()
        if code != 0 or "stopped" not in said:
            self._fault(f"{when} the daemon ended with {code}: {said[-300:]}")
        self._go_on(when)

    def _stop(self) -> None:
        self._stale.append(self.bench.door.token)
        code, said = self.bench.stop()
        if code != 0:
            self._fault(f"the daemon was stopped and ended with {code}: {said[-300:]}")

    def _go_on(self, when: str) -> None:
        """The next life of the daemon, by other files if there is a change left to try."""
        self.hold(when)
        for path, text in self._files.items():
            path.write_text(text, "utf-8")
        if self._between:
            change = self._between.pop()
            self.done.append(change.__name__)
            change()
        self._start()
        self.work()

    def _must_not_start(self, what: str, *words: str) -> None:
        """A daemon must refuse to serve, and say what it is and what to do."""
        try:
            # In this process, for it is quicker; how a process ends is seen of the living store.
            with running_daemon(load_bench(self.bench.file)):
                self._fault(f"a daemon serves with {what}")
        except CoatbenchError as error:
            said = "\n".join(fault_lines(error))
            if not error.next_step or not all(word in said for word in words):
                self._fault(f"with {what} a daemon said {said}")

    # -- the store's hands ------------------------------------------------------------------------

    def _keep_copy(self, name: str) -> Path:
        # The heads first: those of the copy are then no more than it has.
        with contextlib.suppress(FileNotFoundError):
            shutil.copyfile(heads_path(self.bench.store), heads_path(self.folder / name))
        return hands.copy_of(self.bench.store, self.folder / name)

    def _put_back(self, copy: Path) -> None:
        for ending in ("", "-wal", "-shm"):
            Path(f"{self.bench.store}{ending}").unlink(missing_ok=True)
        shutil.copyfile(copy, self.bench.store)
        # With the heads as they were: without them any older copy would be told by its heads.
        heads_path(self.bench.store).unlink(missing_ok=True)
        with contextlib.suppress(FileNotFoundError):
            shutil.copyfile(heads_path(copy), heads_path(self.bench.store))

    def _must_name(self, store: Path, told: list[str], *more: str) -> None:
        """``coatbench store verify`` ends with 1, and names one of these, the first in order."""
        code, said = commands.typed(self.bench.file, ["store", "verify", str(store), *more])
        misfit = said.partition("DOES NOT FIT: ")[2].splitlines()
        if code != 1 or not misfit or not any(one in misfit[0] for one in told):
            self._fault(f"an edited store ({told}) was told with {code}: {said[-300:]}")

    def edit_a_copy(self) -> None:
        """Each edit alone, on copies of the store, while the daemon goes on."""
        self.work()
        copy = self._keep_copy("edited.sqlite")
        for name in hands.EDITS:
            shutil.copyfile(copy, self.folder / "one.sqlite")
            try:
                told = hands.edited(self.folder / "one.sqlite", [name])
            except AssertionError:
                continue  # nothing there to edit yet
            if name == "a seal":
                told = ["seal"]
            self._must_name(self.folder / "one.sqlite", told)

    def edit_the_dead_store(self) -> None:
        """Edited, unguarded, and replaced by an older copy of itself while no daemon runs."""
        copy = self._keep_copy("before.sqlite")
        with contextlib.suppress(AssertionError):
            self._must_name(self.bench.store, hands.edited(self.bench.store, ["a verdict"]))
        self._put_back(copy)
        guard = hands.unguarded(self.bench.store)
        self._must_name(self.bench.store, [guard])
        self._must_not_start("a guard taken out of its store", "guards", guard)
        with StoreReader(copy) as reader:
            head = str(verify(reader).head)
        self._put_back(self._older)
        # A store of before is whole in itself: only a seal that is known from elsewhere tells.
        self._must_name(self.bench.store, ["the end of the store was cut off"], "--seal", head)
        self._put_back(copy)

    def edit_the_living_store(self) -> None:
        """Edits behind the guards while a daemon records: named, and a row put in ends it."""
        self.work()
        copy = self._keep_copy("before.sqlite")
        told = hands.edited(self.bench.store, ["a certificate"])
        self.work()
        self._must_name(self.bench.store, told)
        hands.edited(self.bench.store, ["a remark put in"])
        calls.ask(self.bench.door, self.bench.door.token, "note", {"text": "are you there"})
        self._ended_loudly("a row put in", "another program has written")
        self._must_name(self.bench.store, told)
        self._must_not_start("a row put into its store", "another program", "no seal has")
        self._put_back(copy)
        self._go_on("after the store was put back")

    def _ended_loudly(self, what: str, *words: str) -> None:
        code, said = self.bench.ended()
        if code != 3 or not all(word in said for word in words):
            self._fault(f"with {what} the daemon ended with {code}: {said[-300:]}")

    def replace_the_living_store(self) -> None:
        """Another file under the store's name while the daemon records: it ends loudly."""
        copy = self._keep_copy("before.sqlite")
        moved = self.folder / "moved.sqlite"
        self.bench.store.rename(moved)
        shutil.copyfile(copy, self.bench.store)
        calls.ask(self.bench.door, self.bench.door.token, "note", {"text": "are you there"})
        self._ended_loudly("its store replaced", "no longer the file")
        moved.unlink()
        self._put_back(copy)
        self._go_on("after the store was put back")

    def edit_through_the_guards(self) -> None:
        if through := hands.refused_in_place(self.bench.store, self.chance):
            self._fault(through)

    # -- the files' hands -------------------------------------------------------------------------

    def _change(self, path: Path, old: str, new: str) -> None:
        """A file says otherwise until the daemon's next life."""
        text = self._files[path]
        assert old in text, f"{path} has no {old!r}"
        path.write_text(text.replace(old, new), "utf-8")

    def widen_the_policy(self) -> None:
        """Limits so wide that every piece passes: what was decided before stays decided."""
        self._change(self.bench.policy, "limit = 1.0", "limit = 50")

    def drop_a_piece(self) -> None:
        """A policy with a piece less: its checks close no pass that was held to that piece."""
        text = self._files[self.bench.policy]
        step = f"[[step]]\n{text.split('[[step]]' + chr(10))[2]}"
        bare = text.replace("linearity_limit = 1.5\n", "").replace(step, "")
        self._change(self.bench.policy, text, bare)

    def change_the_serial(self) -> None:
        self._change(self.bench.file, "HN-0009", "HN-0010")

    def change_certificates(self) -> None:
        """A certificate and then its file are edited: nobody serves with that."""
        self._change(self.bench.file, "value = 91.4", "value = 94.4")
        self._must_not_start("a certificate edited", "94.4", "91.4", "withdrawn")
        self.bench.file.write_text(self._files[self.bench.file], "utf-8")
        kept = self.bench.folder / "t1.txt"
        self._change(kept, "91.4", "94.4")
        self._must_not_start("another file of a certificate", "t1.txt", "SHA-256")
        kept.write_text(self._files[kept], "utf-8")

    def withdraw_a_certificate(self) -> None:
        """One by which all checks have passed is called wrong, with another in its place.

        In the next life of the daemon it stands again: nothing is lost by that.
        """
        right = self.chance.choice(("91.6", "94.9"))
        text = self._files[self.bench.file]
        first = text.index("[[piece.certificate]]")
        end = text.index("[[piece.certificate]]", first + 1)
        own = text[first:end]
        gone = own.replace("value = 91.4", 'withdrawn = "of another tile"\nvalue = 91.4')
        other = own.replace("91.4", right).replace('file = "t1.txt"\n', "")
        self.bench.file.write_text(f"{text[:first]}{gone}{other}{text[end:]}", "utf-8")

    def unchecked_trial(self) -> None:
        """The trial file is made unchecked behind its readings' back."""
        text = calls.PLANS[2]
        answer = calls.ask(
            self.bench.door, self.bench.door.token, "begin_run",
            {"text": text, "source": "trial.toml", "stage": "bare", "instrument": "hand"},
        )  # fmt: skip
        with StoreReader(self.bench.store) as reader:
            is_known = reader.one(
                "SELECT count(*) FROM trial WHERE trial = 'gelcoat' AND unchecked = 0"
            )
        if (answer or {}).get("ok") and is_known:
            self._fault("a trial was made unchecked after it had readings")

    def spoil_the_door(self) -> None:
        """The door file says something else; the daemon goes on, and its own file opens it."""
        path = self.bench.store.with_name(f"{self.bench.store.name}.door")
        text, door = path.read_text("utf-8"), self.bench.door
        for spoiled in (
            "", "{}", "[" * 100_000, text.replace(door.token, "x"),
            text.replace("127.0.0.1", "10.0.0.1"),
        ):  # fmt: skip
            path.write_text(spoiled, "utf-8")
            code, said = commands.typed(self.bench.file, ["status"])
            if code == 0 or commands.fault_of(["status"], code, said):
                self._fault(f"a spoiled door was told with {code}: {said[-200:]}")
        path.write_text(text, "utf-8")
        if not self._is_there(door):
            self._fault("after its door file was spoiled and put back the daemon is not there")

    def _is_there(self, door: Door) -> bool:
        return bool((calls.ask(door, door.token, "status", {}) or {}).get("ok"))

    def press_on_the_wire(self) -> None:
        """Presses and rubbish on the other meter's line."""
        for _ in range(5):
            self.bench.wire.press(f"{self.chance.randint(0, 999) / 10:.1f}")
            self.bench.wire.send(self.chance.randbytes(40))

    # -- what must hold ---------------------------------------------------------------------------

    def hold(self, when: str) -> None:
        """What a daemon has left behind: seals, checks, what counts, and what was decided."""
        store = self.bench.store
        with StoreReader(store) as reader:
            if (misfit := verify(reader).misfit) is not None:
                self._fault(f"{when} the store does not fit: {misfit}")
            for check in rejudge_all(reader):
                if not check.holds:
                    self._fault(f"{when} {check.lines}")
        self.faults += [f"{when}: {fault}" for fault in audit(store)]
        decided = _decided(store)
        for key, row in self._decided.items():
            if decided.get(key) != row:
                self._fault(f"{when} {key[0]} {key[1]} is {decided.get(key)} and was {row}")
        self._decided = decided
        with StoreReader(store) as reader:
            self.counted = int(reader.one("SELECT count(*) FROM readings WHERE counts = 1") or 0)

    def _fault(self, words: str) -> None:
        last = ", ".join(self.done[-4:])
        self.faults.append(f"{words}\n    after {last}")


def _decided(store: Path) -> dict[tuple[str, int], tuple[object, ...]]:
    with closing(sqlite3.connect(store)) as conn:
        return {
            (table, row[0]): tuple(row)
            for table in DECIDED
            for row in conn.execute(f"SELECT * FROM {table}")
        }


def _rows_asked(store: Path) -> int:
    """How much somebody asked a daemon for: checks, runs, remarks, what was entered or typed."""
    asked = ("check_begin", "run", "note", "climate", "void", "assignment", "reading")
    # A meter tells its name by itself, when the daemon connects it.
    asked = (*asked, "notice WHERE kind <> 'identity'")
    with StoreReader(store) as reader:
        return sum(int(reader.one(f"SELECT count(*) FROM {table}") or 0) for table in asked)
