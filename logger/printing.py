"""What the commands print: text without control characters, tables, JSON, and how far a long piece of work has come."""

from __future__ import annotations

import json
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from logger.clean import clean

if TYPE_CHECKING:
    from logger.tables import Block

UNSEEN = re.compile("[\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")
"""What JSON leaves as it is, and a terminal takes for a command or a change of direction."""
READING_S = 3
"""Between two lines that tell how many notes are read."""
PLAIN_WIDTH = 160
"""Columns of a table that goes into a file or another program."""


def say(line: str, *, err: bool = False) -> None:
    """One line, on standard output or standard error."""
    click.echo(clean(line), err=err)


def count_of(count: int, what: str) -> str:
    """`1 job`, `2 jobs`."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def warn(lines: Iterable[str]) -> None:
    """What is amiss but costs only itself, a line each on standard error."""
    for line in lines:
        say(f"fallbook: {line}", err=True)


def print_json(shape: object) -> None:
    text = json.dumps(shape, ensure_ascii=False, indent=1)
    click.echo(text if text.isascii() else UNSEEN.sub(lambda match: f"\\u{ord(match[0]):04x}", text))


def print_blocks(blocks: Iterable[Block]) -> None:
    """Lines of text and tables; what stands in a table was cleaned as it went in."""
    terminal = sys.stdout.isatty()
    width = shutil.get_terminal_size().columns if terminal else PLAIN_WIDTH
    for block in blocks:
        lines = map(clean, block.split("\n")) if isinstance(block, str) else block.lines(width, bold=terminal)
        click.echo("\n".join(lines))


@contextmanager
def listening() -> Iterator[Callable[[str], Callable[[float, float], None]]]:
    """Tells how far hearing has come: a moving line on a terminal, now and then a plain line elsewhere."""
    if not sys.stderr.isatty():
        yield _plainly
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    from logger.pace import Pace

    columns = TextColumn("hearing {task.description}", markup=False), BarColumn(), TextColumn("{task.fields[words]}")
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:

        def begin(name: str) -> Callable[[float, float], None]:
            task = progress.add_task(clean(name), total=None, words="")
            pace = Pace()
            return lambda done, total: progress.update(
                task, completed=done, total=total, visible=done < total, words=pace.words(done, total)
            )

        yield begin


def _plainly(name: str) -> Callable[[float, float], None]:
    """One line a recording, and another each minute that it takes."""
    from logger.pace import now_and_then

    say(f"hearing {name} ...", err=True)
    return now_and_then(lambda words: say(f"{name}: {words}", err=True))


def reading_told(clock: Callable[[], float] = time.monotonic) -> Callable[[int, int], None]:
    """Tells how many notes of a job are read, a line every few seconds, on standard error."""
    said, last = clock(), 0

    def progress(done: int, total: int) -> None:
        nonlocal said, last
        if done <= last or not last:
            said = clock()  # another job is begun
        last = done
        if clock() - said >= READING_S:
            said = clock()
            say(f"reading notes: {done} of {total}", err=True)

    return progress


@contextmanager
def counting() -> Iterator[Callable[[str, int, int], None]]:
    """Tells how many of a kind of thing are done, on a terminal alone."""
    if not sys.stderr.isatty():
        yield lambda what, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed} of {task.total}")
    with Progress(*columns, TimeRemainingColumn(), console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("", total=None)
        yield lambda what, done, total: progress.update(task, description=what, completed=done, total=total)
