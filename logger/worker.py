"""Files of strangers are decoded in a process of their own: a crash, a hang or a lack of memory there costs that file.

The process reads one request a line on its standard input and answers with frames on its standard output: a line of
JSON, then as many bytes as that line says. It ends with the process that started it.
"""

from __future__ import annotations

import atexit
import json
import os
import selectors
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import IO, Any

from extract.errors import FallbookError
from logger.program import end_with_parent, module_command, started

QUIET_S = 60.0
"""A file of which nothing came for so long is given up."""
MEMORY = 1000 << 20
"""Bytes of memory that decoding may take (where the system can hold it to that)."""
OUTSIDE = (1, 2, 9, 15)
"""SIGHUP, SIGINT, SIGKILL and SIGTERM: no fault of the file."""
BEAT_S = 1.0
"""How often a long piece of work says that it goes on."""


class Unusable(FallbookError):
    """The file cannot be used, and will not be able to be by trying again."""


# -- the side that asks


class Worker:
    """The process that decodes, started when it is first needed and again after each file that it did not survive."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._asking = threading.Lock()

    def ask(self, call: str, path: Path, name: str = "") -> tuple[Any, bytes]:
        """The last answer to a call: a value and bytes. Several threads may ask; each waits for its turn.

        Raises Unusable, one line that begins with `name`.
        """
        last: tuple[Any, bytes] = (None, b"")
        with self._asking:
            for answer in self.stream(call, path, name):
                last = answer
        return last

    def stream(self, call: str, path: Path, name: str = "") -> Iterator[tuple[Any, bytes]]:
        """Each answer to a call, in order. Raises Unusable as above."""
        name = name or str(path)
        process = self._running()
        done = False
        try:
            _write(process, {"call": call, "path": str(path), "name": name})
            while not done:
                head, content = _frame(process)
                if "error" in head:
                    done = True
                    raise (FallbookError if head["again"] else Unusable)(head["error"])
                done = head.get("done", False)
                if "value" in head:
                    yield head["value"], content
        except _Lost as lost:
            self.stop()
            if lost.passing:
                raise FallbookError(f"{name}: {lost}; try it again") from None
            raise Unusable(f"{name}: {lost}; copy it again from where it came, or leave it out") from None
        finally:
            if not done:  # whoever asked has had enough, or the answer is half read
                self.stop()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            self._process = started(
                module_command("logger.worker"),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,  # a decoder's own chatter is not for the crew
            )
        return self._process

    def stop(self) -> None:
        """End the process, whatever it is at."""
        if self._process is not None:
            self._process.kill()
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe:
                    with suppress(OSError):
                        pipe.close()
            self._process.wait()
            self._process = None


class _Lost(Exception):
    """The process ended, or fell silent; `passing` where that was not the file's doing, as far as can be told."""

    def __init__(self, words: str, *, passing: bool = False) -> None:
        super().__init__(words)
        self.passing = passing


@lru_cache(maxsize=1)
def worker() -> Worker:
    """The one worker of this process."""
    made = Worker()
    atexit.register(made.stop)
    return made


def _write(process: subprocess.Popen[bytes], request: dict[str, str]) -> None:
    assert process.stdin is not None
    try:
        process.stdin.write(json.dumps(request).encode() + b"\n")
        process.stdin.flush()
    except OSError as error:
        raise _Lost("the decoder could not be started", passing=True) from error


def _frame(process: subprocess.Popen[bytes]) -> tuple[dict[str, Any], bytes]:
    assert process.stdout is not None
    head = json.loads(_bytes_until_newline(process, process.stdout))
    return head, _read(process, process.stdout, head.get("bytes", 0))


def _bytes_until_newline(process: subprocess.Popen[bytes], pipe: IO[bytes]) -> bytes:
    line = b""
    while not line.endswith(b"\n"):
        line += _read(process, pipe, 1)
    return line


def _read(process: subprocess.Popen[bytes], pipe: IO[bytes], count: int) -> bytes:
    """`count` bytes, waiting for each next piece no longer than QUIET_S."""
    pieces, missing = [], count
    while missing:
        _wait(pipe)
        piece = os.read(pipe.fileno(), min(missing, 1 << 20))
        if not piece:
            raise _ended(process.wait())
        pieces.append(piece)
        missing -= len(piece)
    return b"".join(pieces)


def _ended(status: int) -> _Lost:
    """A decoder that fails on a file ends by a signal of its own; those of OUTSIDE are sent to it."""
    if status < 0 and -status not in OUTSIDE:
        return _Lost("the decoder failed on it")
    return _Lost("the decoder was ended before it was done", passing=True)


def _wait(pipe: IO[bytes]) -> None:
    if os.name == "nt":  # pipes cannot be waited for there
        return
    with selectors.DefaultSelector() as selector:
        selector.register(pipe, selectors.EVENT_READ)
        if not selector.select(QUIET_S):
            raise _Lost(f"decoding it came to nothing in {QUIET_S:.0f} s")


# -- the side that decodes


Answer = Callable[..., None]
"""Sends one answer: a value that JSON can hold, and bytes."""


def _probe(path: Path, name: str, answer: Answer) -> None:
    from logger import sound

    info = sound.probe(path, alive=_beat(answer))
    started = info.started_at.isoformat() if info.started_at else None
    answer({"length_s": info.duration_s, "started_at": started})


def _samples(path: Path, name: str, answer: Answer) -> None:
    from logger import sound

    for block in sound.decode(path):
        answer(None, block.tobytes())


def _photo(path: Path, name: str, answer: Answer) -> None:
    from logger import photos

    answer(photos.read_photo(path, name).model_dump(mode="json"))


def _picture(path: Path, name: str, answer: Answer) -> None:
    from logger import pictures

    answer(None, pictures.upright_jpeg(path, name))


def _plate(path: Path, name: str, answer: Answer) -> None:
    from logger import pictures

    answer(None, pictures.upright_jpeg(path, name, pictures.PAPER_PX))


def _text(path: Path, name: str, answer: Answer) -> None:
    from logger import sniff

    answer(None, sniff.read_text(path, name).encode("utf-8", "replace"))


CALLS = {"probe": _probe, "samples": _samples, "photo": _photo, "picture": _picture, "plate": _plate, "text": _text}


def _beat(answer: Answer) -> Callable[[], None]:
    last = time.monotonic()

    def alive() -> None:
        nonlocal last
        if time.monotonic() - last > BEAT_S:
            last = time.monotonic()
            answer()

    return alive


def _serve() -> None:
    """Answer requests until there are no more."""
    _hold_to_limits()
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing that a library prints gets among the answers
    for line in sys.stdin.buffer:
        request = json.loads(line)
        _answer_request(request["call"], Path(request["path"]), request["name"], out)


def _answer_request(call: str, path: Path, name: str, out: IO[bytes]) -> None:
    def send(head: dict[str, Any], content: bytes = b"") -> None:
        out.write(json.dumps(head | {"bytes": len(content)}).encode() + b"\n" + content)
        out.flush()

    def answer(*value: Any) -> None:
        send({"value": value[0]} if value else {}, value[1] if len(value) > 1 else b"")

    def fail(why: str, *, again: bool = False) -> None:
        send({"error": f"{name}: {why}", "again": again})

    try:
        CALLS[call](path, name, answer)
        send({"done": True})
    except MemoryError:
        fail(f"takes more than {MEMORY >> 20} MB of memory to decode; save a smaller copy and take that")
    except FallbookError as error:
        fail(str(error).removeprefix(f"{path}: ").removeprefix(f"{name}: "))
    except OSError as error:
        fail(f"cannot be read ({error.strerror or error}); check the disk and try again", again=True)
    except Exception as error:  # decoders raise anything on hostile bytes
        fail(f"cannot be decoded ({type(error).__name__}); copy it again from where it came")


def _hold_to_limits() -> None:
    """Memory within MEMORY, no core file, and an end together with the parent, however that one ends."""
    with suppress(ImportError, OSError, ValueError):
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    end_with_parent()


if __name__ == "__main__":
    _serve()
