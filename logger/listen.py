"""Listen all day: a microphone's sound in pieces into a job, each heard as it comes, until somebody ends it.

One thread cuts, writes pieces to the spool and prints; PortAudio's puts sound into a queue, the keeper's takes pieces
into the library, and the process that hears answers through the same queue. So nothing slow is ever done where sound
comes in.
"""

from __future__ import annotations

import os
import queue
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import Any, Protocol

from logger.book import Book
from logger.cutting import Cutter
from logger.keeper import Keeper
from logger.microphone import Block, Lost, recording
from logger.page.feed import Feed, place
from logger.page.hearing_worker import HearingWorker
from logger.printing import count_of
from logger.settle import in_background
from logger.spool import Spool
from logger.store import open_store
from logger.times import timezone_of

LOOK_S = 1.0
LOST_S = 5.0
"""A microphone that gives nothing for so long is lost: not every system tells that one was unplugged."""
JUMP_S = 1.0
"""By which the clock of the sound jumps where some is missing: the machine slept, or was too busy."""
ZEROS_S = 10.0
"""Of zeros alone: no microphone is as silent as that."""
OVERRUN_S = 60.0
"""Between two lines that say that sound was lost."""


class Say(Protocol):
    """Prints one line."""

    def __call__(self, line: str, *, err: bool = False) -> None: ...


Event = Block | Lost | dict[str, Any] | None
"""Sound, its end, an answer of the process that hears, or that somebody asked for the end."""


def listen(folder: Path, job: str, microphone: str | None, hearing: HearingWorker, say: Say) -> bool:
    """Record into that job of the library in `folder` until a Ctrl-C, then hear what is left, or until a second one.

    False where something went wrong that was told. Raises FallbookError where there is no such job or no microphone;
    KeyboardInterrupt after the second Ctrl-C.
    """
    session = _Session(folder, job, hearing, say)
    with session.interrupts():
        try:
            return session.run(microphone)
        finally:
            hearing.stop()
            in_background(folder)


class _Tape:
    """Sound that becomes pieces; those of one recording have one clock, so another begins where that jumps."""

    def __init__(self, rate: int, keeper: Keeper) -> None:
        """`rate` is the samples a second [Hz]."""
        self._rate, self._keeper, self._ended = rate, keeper, 0.0
        self._begin()

    def _begin(self) -> None:
        self._cutter, self._recording_id = Cutter(self._rate), os.urandom(8).hex()

    def feed(self, block: Block) -> None:
        """More sound."""
        began = block.ended - block.length_s
        if abs(began - self._ended) > JUMP_S:
            self.finish()
            self._begin()
        self._ended = block.ended
        for piece in self._cutter.feed(block.samples, datetime.fromtimestamp(began, UTC)):
            self._keeper.put(piece, self._recording_id)

    def finish(self) -> None:
        """The last piece."""
        for piece in self._cutter.finish():
            self._keeper.put(piece, self._recording_id)


class _Session:
    """One press of the button."""

    def __init__(self, folder: Path, job: str, hearing: HearingWorker, say: Say) -> None:
        self.folder, self.job, self.hearing, self.say = folder, job, hearing, _unbroken(say)
        self.events: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self.interrupted = 0
        with open_store(folder) as store:
            store.must_write()
            self.zone = timezone_of(store.job_row(job)["zone"])
            self.spool = Spool.of(store, job)
            self.notes = {place(line): line.words for line in Book(store, job).lines}
            """What was printed, or is older than this recording."""
            self.feed = Feed()
            self.news = self.feed.since(store, job, "", 0)
        hearing.answer = self.events.put
        self.overrun_told = -OVERRUN_S
        self.zeros_s = 0.0
        """Of zeros alone until now; below 0 once something came, or it was told."""

    @contextmanager
    def interrupts(self) -> Iterator[None]:
        """Ctrl-C, a closed terminal and an order to end are counted, and interrupt nothing. The latter two stand for
        a second Ctrl-C: nobody will wait."""

        def came(number: int, frame: FrameType | None) -> None:
            self.interrupted += 1 if number == signal.SIGINT else 2
            self.events.put(None)

        names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
        before = {name: signal.signal(getattr(signal, name), came) for name in names}
        try:
            yield
        finally:
            for name, handler in before.items():
                signal.signal(getattr(signal, name), handler)

    def run(self, wanted: str | None) -> bool:
        """Record, take, hear, and say how it went: False where something went wrong."""
        keeper = Keeper(self.folder, self.job, self.spool, self.zone, self.ask, self.warn)
        try:
            if keeper.found:
                self.say(
                    f"{self.job}: {count_of(keeper.found, 'piece')} of last time not in the library yet, taken first",
                    err=True,
                )
            lost = self.record(wanted, keeper)
        finally:
            left = keeper.finish()
        self.say(f"{self.job}: {count_of(keeper.count, 'piece')} taken", err=True)
        if left:
            self.warn(
                f"not in the library yet: {count_of(left, 'piece')}, kept in {self.spool.folder}; once the library "
                f"is well again run: fallbook listen {self.job}"
            )
        unheard = self.hear_what_is_left()
        if unheard:
            what = count_of(unheard, "recording")
            self.say(f"{self.job}: {what} kept and not heard yet; to hear: fallbook listen {self.job}", err=True)
        if left or lost or keeper.failed:
            return False
        if self.interrupted > 1:
            raise KeyboardInterrupt
        return not unheard

    def warn(self, line: str) -> None:
        """Something is amiss."""
        self.say(f"fallbook: {line}", err=True)

    # -- recording

    def record(self, wanted: str | None, keeper: Keeper) -> bool:
        """Until the end; however that comes, all sound is with the keeper. True where the microphone was lost."""
        tape = None
        try:
            with recording(wanted, self.events.put) as microphone:
                tape = _Tape(microphone.rate, keeper)
                self.say(f"{self.job}: recording from {microphone.name}; Ctrl-C ends it", err=True)
                self.ask()  # and what is not heard yet from before
                microphone.lost = self.record_until_the_end(tape, microphone.name)
                if microphone.lost:
                    self.warn(
                        f"the microphone {microphone.name!r} gives no more sound; all until now is kept; plug it in "
                        f"and run: fallbook listen {self.job}"
                    )
                    self.interrupted += 1  # for the Ctrl-C that ends it: the next one waits for nothing
            return microphone.lost
        finally:
            if tape:
                self.finish(tape)

    def finish(self, tape: _Tape) -> None:
        """What came in while the microphone was switched off, and the last piece."""
        try:
            with suppress(queue.Empty):
                while True:
                    if isinstance(event := self.events.get_nowait(), Block):
                        tape.feed(event)
                    elif isinstance(event, dict):
                        self.tell(event)
        finally:
            tape.finish()

    def record_until_the_end(self, tape: _Tape, name: str) -> bool:
        """True where the microphone was lost."""
        last = time.monotonic()
        while True:
            try:
                event = self.events.get(timeout=LOOK_S)
            except queue.Empty:
                if time.monotonic() - last > LOST_S:
                    return True
                continue
            if event is None or isinstance(event, Lost):
                return event is not None
            if isinstance(event, dict):
                self.tell(event)
            else:
                last = time.monotonic()
                tape.feed(event)
                self.look_at(event, name)

    def look_at(self, block: Block, name: str) -> None:
        """Say what is wrong with the sound."""
        if block.overrun and time.monotonic() - self.overrun_told >= OVERRUN_S:
            self.overrun_told = time.monotonic()
            when = datetime.fromtimestamp(block.ended, self.zone)
            self.say(f"{when:%H:%M:%S} some sound was lost: this machine is too busy; say it again", err=True)
        if self.zeros_s < 0:
            return
        self.zeros_s = -1 if block.samples.any() else self.zeros_s + block.length_s
        if self.zeros_s >= ZEROS_S:
            self.zeros_s = -1
            self.warn(
                f"no sound comes from {name!r}: it is muted, or programs may not use it; look at its switch, at "
                "the system's sound settings, and at its privacy settings under Microphone"
            )

    # -- hearing

    def ask(self) -> None:
        """Have heard what is not heard."""
        try:
            self.hearing.ask(self.job)
        except OSError as error:
            self.warn(f"hearing cannot be started ({error.strerror}); what is said is kept")

    def hear_what_is_left(self) -> int:
        """Wait until all is heard and told, or somebody will not wait: how many recordings are left."""
        self.look()
        if self.news["unheard"]:
            self.say("hearing what is left; Ctrl-C leaves it for later", err=True)
        for _ in range(2):
            if self.news["unheard"] and self.interrupted < 2:
                self.ask()
            while self.hearing.busy() and self.interrupted < 2:
                self.tell_next(LOOK_S)
            while self.tell_next(0):
                pass
            self.look()
        return int(self.news["unheard"])

    def tell_next(self, timeout_s: float) -> bool:
        """False where nothing came in that time."""
        try:
            event = self.events.get(timeout=timeout_s)
        except queue.Empty:
            return False
        if isinstance(event, dict):
            self.tell(event)
        return True

    def tell(self, answer: dict[str, Any]) -> None:
        """What the process that hears says."""
        self.feed.take(answer)
        if "trouble" in answer:
            self.warn(answer["trouble"])
        if "told" in answer:
            self.look()

    def look(self) -> None:
        """Print the notes that are new, each with what was understood."""
        try:
            with open_store(self.folder) as store:
                self.news = self.feed.since(store, self.job, self.news["feed"], self.news["note"])
        except Exception:  # a library that is gone the keeper tells of; all else is told when the job is asked for
            return
        for note in sorted((each for each in self.news["notes"] if each.get("read")), key=lambda each: each["place"]):
            if self.notes.get(note["id"]) != note["words"]:
                self.notes[note["id"]] = note["words"]
                self.say(f"{note['at']} {note['words']}")
                if note["understood"]:
                    self.say(f"      {note['understood']}")


def _unbroken(say: Say) -> Callable[..., None]:
    """The same for a terminal that may be gone: what is recorded matters more."""

    def quietly(line: str, *, err: bool = False) -> None:
        with suppress(OSError, ValueError):
            say(line, err=err)

    return quietly
