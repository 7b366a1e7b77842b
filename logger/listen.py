"""Listen all day: a microphone's sound in pieces into a job, each heard as it comes, until somebody ends it.

One thread cuts and prints; PortAudio's puts sound into a queue, the keeper's takes pieces into the library, and the
process that hears answers through the same queue. So nothing slow is ever done where sound comes in.
"""

from __future__ import annotations

import queue
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import FrameType
from typing import Any, Protocol

from extract.errors import FallbookError
from logger.book import Book
from logger.cutting import Cutter, Piece, joined
from logger.keeper import Keeper, leave
from logger.microphone import Block, Lost, recording
from logger.page.feed import Feed, place
from logger.page.hearing_worker import HearingWorker
from logger.settle import in_background
from logger.store import open_store
from logger.times import timezone_of

LOOK_S = 1.0
LOST_S = 5.0
"""A microphone that gives nothing for so long is lost: not every system tells that one was unplugged."""
OVERRUN_S = 60.0
"""Between two lines that say that sound was lost."""
AGAIN_S = 15.0
"""Between two tries to put what cannot be taken anywhere at all."""


class Say(Protocol):
    """Prints one line."""

    def __call__(self, line: str, *, err: bool = False) -> None: ...


@dataclass(frozen=True)
class _Taken:
    """A piece is in the library."""


@dataclass(frozen=True)
class _Trouble:
    line: str


@dataclass(frozen=True)
class _Interrupt:
    """Somebody asked for the end; how often is counted by `_Session`."""


Event = Block | Lost | _Taken | _Trouble | _Interrupt | dict[str, Any]


def listen(folder: Path, job: str, microphone: str | None, hearing: HearingWorker, say: Say) -> None:
    """Record into that job of the library in `folder` until a Ctrl-C, then hear what is left, or until a second one.

    Raises FallbookError where there is no such job or no microphone, and, once all is kept, where the microphone was
    lost, or something could not be taken or heard; KeyboardInterrupt after the second Ctrl-C.
    """
    session = _Session(folder, job, hearing, say)
    with session.interrupts():
        try:
            session.run(microphone)
        finally:
            hearing.stop()
            in_background(folder)


class _Session:
    """One recording."""

    def __init__(self, folder: Path, job: str, hearing: HearingWorker, say: Say) -> None:
        self.folder, self.job, self.hearing, self.say = folder, job, hearing, _unbroken(say)
        self.events: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self.interrupted = 0
        with open_store(folder) as store:
            store.must_write()
            self.zone = timezone_of(store.job_row(job)["zone"])
            self.notes = {place(line): line.words for line in Book(store, job).lines}
            """What was printed, or is older than this recording."""
            self.feed = Feed()
            self.news = self.feed.since(store, job, "", 0)
        hearing.answer = self.events.put
        self.overrun_told = -OVERRUN_S

    @contextmanager
    def interrupts(self) -> Iterator[None]:
        """Ctrl-C, a closed terminal and an order to end are counted, and interrupt nothing. The latter two stand for
        a second Ctrl-C: nobody will wait."""

        def came(number: int, frame: FrameType | None) -> None:
            self.interrupted += 1 if number == signal.SIGINT else 2
            self.events.put(_Interrupt())

        names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
        before = {name: signal.signal(getattr(signal, name), came) for name in names}
        try:
            yield
        finally:
            for name, handler in before.items():
                signal.signal(getattr(signal, name), handler)

    def run(self, wanted: str | None) -> None:
        """Record, take, hear, and say how it went."""
        lost, keeper = self.record(wanted)
        left = self.left(keeper, keeper.finish())
        self.say(f"{self.job}: {keeper.count} piece{'' if keeper.count == 1 else 's'} taken", err=True)
        unheard = self.hear_what_is_left()
        if unheard:
            what = "1 recording is" if unheard == 1 else f"{unheard} recordings are"
            self.say(
                f"{self.job}: {what} kept and not heard yet; the next fallbook take or listen into it hears them",
                err=True,
            )
        if left:
            raise FallbookError(left)
        if lost:
            raise FallbookError(
                f"the microphone {lost!r} gives no more sound; all until then is kept; plug it in and run it again"
            )
        if self.interrupted > 1:
            raise KeyboardInterrupt
        if unheard:
            raise FallbookError(f"{self.job}: not all was heard, for the reason above")

    # -- recording

    def record(self, wanted: str | None) -> tuple[str, Keeper]:
        """Until the end: the name of the microphone where it was lost, else nothing; and who took the pieces."""
        with recording(wanted, self.events.put) as microphone:
            keeper = Keeper(
                self.folder, self.job, self.zone, lambda: self.events.put(_Taken()),
                lambda line: self.events.put(_Trouble(line)),
            )  # fmt: skip
            cutter = Cutter(microphone.rate)
            self.say(f"{self.job}: recording from {microphone.name}; Ctrl-C ends it", err=True)
            self.ask()  # and what is not heard yet from before
            microphone.lost = self.record_until_the_end(cutter, keeper, microphone.rate)
        with suppress(queue.Empty):  # what came in while it was switched off
            while True:
                self.handle(self.events.get_nowait(), cutter, keeper, microphone.rate)
        for piece in cutter.finish():
            keeper.put(piece)
        if microphone.lost:
            self.interrupted += 1  # for the Ctrl-C that ends it: the next one waits for nothing
        return microphone.name if microphone.lost else "", keeper

    def record_until_the_end(self, cutter: Cutter, keeper: Keeper, rate: int) -> bool:
        """True where the microphone was lost."""
        last = time.monotonic()
        while True:
            try:
                event = self.events.get(timeout=LOOK_S)
            except queue.Empty:
                if time.monotonic() - last > LOST_S:
                    return True
                continue
            if isinstance(event, Lost | _Interrupt):
                return isinstance(event, Lost)
            if isinstance(event, Block):
                last = time.monotonic()
            self.handle(event, cutter, keeper, rate)

    def handle(self, event: Event, cutter: Cutter, keeper: Keeper, rate: int) -> None:
        """Sound is cut; all else is told."""
        if not isinstance(event, Block):
            self.tell(event)
            return
        began = datetime.fromtimestamp(event.ended, UTC) - timedelta(seconds=len(event.samples) / rate)
        for piece in cutter.feed(event.samples, began):
            keeper.put(piece)
        if event.overrun and time.monotonic() - self.overrun_told >= OVERRUN_S:
            self.overrun_told = time.monotonic()
            when = began.astimezone(self.zone)
            self.say(f"{when:%H:%M:%S} some sound was lost: this machine is too busy; say it again", err=True)

    def left(self, keeper: Keeper, pieces: list[Piece]) -> str:
        """What could not be taken is put into files: a line that says so and where; empty where all was taken."""
        while pieces:
            length = _length(pieces)
            try:
                folder = leave(pieces, self.job, self.zone)
            except OSError as error:
                if self.interrupted > 1:
                    return f"{length} of sound are lost: no disk took them ({error.strerror or error})"
                self.say("no disk takes the last sound; make room, it is tried again; Ctrl-C gives it up", err=True)
                self.wait(AGAIN_S)
                pieces = keeper.try_again()
                continue
            return (
                f"{length} of sound could not be taken; they are kept in {folder}; once the library is "
                f"well again run: fallbook take {self.job} {folder}"
            )
        return ""

    def wait(self, seconds: float) -> None:
        """For so long, or until somebody asks for the end; what comes meanwhile is told."""
        end = time.monotonic() + seconds
        with suppress(queue.Empty):
            while not isinstance(event := self.events.get(timeout=max(0.0, end - time.monotonic())), _Interrupt):
                self.tell(event)

    # -- hearing

    def ask(self) -> None:
        """Have heard what is not heard."""
        try:
            self.hearing.ask(self.job)
        except OSError as error:
            self.say(f"fallbook: hearing cannot be started ({error.strerror}); what is said is kept", err=True)

    def hear_what_is_left(self) -> int:
        """Wait until all is heard, or somebody will not wait: how many recordings are left."""
        self.look()
        asked = 0
        while self.news["unheard"] and asked < 2 and self.interrupted < 2:
            if not asked:
                self.say("hearing what is left; Ctrl-C leaves it for later", err=True)
            self.ask()
            asked += 1
            while self.hearing.busy() and self.interrupted < 2:
                self.wait(LOOK_S)
            self.wait(0)
            self.look()
        return int(self.news["unheard"])

    def tell(self, event: Event) -> None:
        """What another thread says."""
        if isinstance(event, _Taken):
            self.ask()
        elif isinstance(event, _Trouble):
            self.say(f"fallbook: not in the library yet, kept and tried again: {event.line}", err=True)
        elif isinstance(event, dict):
            self.feed.take(event)
            if "trouble" in event:
                self.say(f"fallbook: {event['trouble']}", err=True)
            if "told" in event:
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


def _length(pieces: Sequence[Piece]) -> str:
    """`17 s`, `3 min`: how much sound they hold together."""
    seconds = sum(len(each.samples) / each.rate for each in joined(pieces))
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"


def _unbroken(say: Say) -> Callable[..., None]:
    """The same for a terminal that may be gone: what is recorded matters more."""

    def quietly(line: str, *, err: bool = False) -> None:
        with suppress(OSError, ValueError):
            say(line, err=err)

    return quietly
