"""Hearing, in a process of its own that starts with the page: pages answer while it hears, and its model stays loaded.

It reads one request a line on its standard input, `{"job": NAME}`: hear what of that job is not heard yet, and tell
what its newest notes were understood to say. It answers with lines of JSON on its standard output (see `serve`), and
ends with the process that started it.
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from extract.errors import FallbookError
from logger.program import end_with_parent, module_command, started

if TYPE_CHECKING:
    from extract.record import Language
    from logger.hearing import Hearing
    from logger.store import Store

Answer = Callable[[dict[str, Any]], None]
QUIET_S = 20.0
"""With nothing to do for so long, what others ask of the job is worked out."""
BEHIND = 5
"""How far hearing stands back behind the pages (nice, POSIX.1): a tap is answered while it goes on."""
LAST = 12
"""Notes of a job, the newest, of which is told what they were understood to say."""


# -- the side that asks


class HearingWorker:
    """The process that hears, started when it is first needed and again when it was lost."""

    def __init__(self, command: Sequence[str], answer: Answer = lambda answer: None) -> None:
        self.answer = answer
        """Is given each answer, in a thread of its own."""
        self._command = command
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._asked: dict[str, None] = {}
        """The jobs that were asked about and not begun."""
        self._at: str | None = None
        """The job that it is at."""

    @classmethod
    def of(cls, folder: Path, model: str | None = None, language: Language | None = None) -> HearingWorker:
        """For the library in that folder."""
        return cls([*module_command("logger.page.hearing_worker"), json.dumps([str(folder), model, language])])

    def start(self) -> None:
        """Start it, so that its model is loaded when the first request comes."""
        with self._lock:
            self._running()

    def ask(self, job: str) -> None:
        """Something came into that job. Does not wait."""
        with self._lock:
            process = self._running()
            self._asked[job] = None
            _write(process, job)

    def busy(self) -> bool:
        """Whether something was asked for that is not done."""
        with self._lock:
            return bool(self._waiting())

    def stop(self) -> None:
        """End it, whatever it is at: a recording is heard on from the stretch at which it was cut off."""
        with self._lock:
            process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            self._process = started(
                self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
            )
            threading.Thread(target=self._listen, args=[self._process], daemon=True, name="hearing_worker").start()
            self._asked, self._at = dict.fromkeys(self._waiting()), None
            for job in self._asked:
                _write(self._process, job)
        return self._process

    def _waiting(self) -> list[str]:
        return [*filter(None, [self._at]), *self._asked]

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdout is not None
        useful = False
        for line in process.stdout:
            try:
                answer = json.loads(line)
            except ValueError:  # the process ended while it wrote its last line
                continue
            useful = useful or "heard" in answer
            self._note(process, answer)
            self.answer(answer)
        self._lost(process, useful)

    def _note(self, process: subprocess.Popen[bytes], answer: dict[str, Any]) -> None:
        with self._lock:
            if self._process is not process:  # another was started, and asked again for all that waits
                return
            if "began" in answer:
                self._asked.pop(answer["job"], None)
                self._at = answer["job"]
            elif "done" in answer:
                self._at = None

    def _lost(self, process: subprocess.Popen[bytes], useful: bool) -> None:
        """It ended by itself. It is started again where it had heard anything, and then goes on."""
        with self._lock:
            if self._process is not process:  # it was stopped
                return
            waiting = dict.fromkeys(self._waiting())
            self._process = None
            if useful and waiting:
                self._running()
                return
            self._at, self._asked = None, {}
        for job in waiting:
            self.answer({"job": job, "trouble": "hearing stopped; it starts again with the next note"})


def _write(process: subprocess.Popen[bytes], job: str) -> None:
    assert process.stdin is not None
    with suppress(OSError):  # it has just ended, which the thread that listens finds out
        process.stdin.write(json.dumps({"job": job}).encode() + b"\n")
        process.stdin.flush()


# -- the side that hears


def serve(
    folder: Path,
    hearing: Hearing,
    requests: Iterable[str | None],
    answer: Answer,
    model: str | None = None,
    language: Language | None = None,
) -> None:
    """Hear what of each job is not heard, as they are asked for; None stands for a while in which nothing was.

    Each answer has `job`, and one of `began`; `heard`, where a recording was heard to its end; `told`, what notes were
    understood to say by their keys (`feed.key`); `trouble`, a line; or `done`.
    """
    from logger.settle import in_background

    known: dict[str, set[str]] = {}
    changed = False
    for job in requests:
        if job is None:
            if changed:
                in_background(folder)
            changed = False
            continue
        changed = True
        answer({"job": job, "began": True})
        try:
            _hear(folder, job, hearing, answer, known.setdefault(job, set()), model, language)
        except FallbookError as error:
            answer({"job": job, "trouble": str(error)})
        except Exception as error:  # it is this job's, and the next one is heard as ever
            answer({"job": job, "trouble": f"hearing failed ({type(error).__name__}: {error}); run: fallbook take"})
        answer({"job": job, "done": True})


def _hear(
    folder: Path,
    job: str,
    hearing: Hearing,
    answer: Answer,
    known: set[str],
    model: str | None,
    language: Language | None,
) -> None:
    from logger.hearing import hear_all
    from logger.store import open_store

    with open_store(folder) as store:
        for result in hear_all(store, job, set(), hearing, lambda name: lambda done, total: None, model, language):
            if result.outcome == "heard" or result.silent:
                answer({"job": job, "heard": True})
            else:
                answer({"job": job, "trouble": result.line})
            _tell(store, job, answer, known)
        _tell(store, job, answer, known)


def _tell(store: Store, job: str, answer: Answer, known: set[str]) -> None:
    """What the newest notes were understood to say, those of them that were not told yet."""
    from logger.book import Book
    from logger.page.feed import key
    from logger.read_back import tell

    book = Book(store, job)
    first = max(0, len(book.lines) - LAST)
    keys = {index: key(book.lines[index]) for index in range(first, len(book.lines))}
    new = [index for index in keys if keys[index] not in known]
    if new:
        told = tell(book, new)
        answer({"job": job, "told": {keys[index]: told[index].shape if index in told else None for index in new}})
        known.update(keys[index] for index in new)


def _requests(pipe: IO[bytes]) -> Iterator[str | None]:
    """Each job asked for; None when nothing was for QUIET_S."""
    lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def read() -> None:
        for line in pipe:
            lines.put(line)
        lines.put(b"")

    threading.Thread(target=read, daemon=True).start()
    while True:
        try:
            line = lines.get(timeout=QUIET_S)
        except queue.Empty:
            yield None
            continue
        if not line:
            return
        yield json.loads(line)["job"]


def main() -> None:
    """The process that hears."""
    from logger import speech

    end_with_parent()
    if os.name == "posix":
        os.nice(BEHIND)
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing that a library prints gets among the answers

    def answer(shape: dict[str, Any]) -> None:
        out.write(json.dumps(shape).encode() + b"\n")
        out.flush()

    folder, model, language = json.loads(sys.argv[1])
    with suppress(FallbookError):  # a model that is missing is told of when there is sound
        speech.load(model)
    serve(Path(folder), speech, _requests(sys.stdin.buffer), answer, model, language)


if __name__ == "__main__":
    main()
