"""The command that asks a person what the record cannot settle, one question at a time."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from logger.options import State, job_name, library
from logger.printing import count_of, say

if TYPE_CHECKING:
    from logger.ask import Asked
    from logger.book import Book
    from logger.store import Store


@click.command()
@job_name
@click.option("--undo", is_flag=True, help="Take back the last answer, amendment or removal.")
@click.option("--play", is_flag=True, help="Play the second of sound that each question came from.")
@click.pass_obj
def ask(state: State, job: str, undo: bool, play: bool) -> None:
    """Answer what the record cannot settle, one question at a time; ? explains."""
    from logger.settle import in_background

    with library(state) as store:
        store.job_row(job)
        store.must_write()
        try:
            if undo:
                from logger.undo import undo as take_back

                say(f"{job}: {take_back(store, job)}")
            else:
                _ask_all(store, job, play=play)
        finally:
            in_background(store.folder)


def _ask_all(store: Store, job: str, *, play: bool) -> None:
    from logger.ask import open_questions
    from logger.book import Book
    from logger.reply import reply

    book, passed = Book(store, job), set[str]()
    if not book.record.questions:
        say(f"{job}: no question is open")
    while asked := next((each for each in open_questions(book) if each.id not in passed), None):
        _show(asked)
        if play:
            _play(store, book, asked)
        while True:
            line = _read()
            if line is None:
                return
            answer, book = reply(book, asked, line)
            if answer.what == "stop":
                return
            if answer.what not in ("refused", "help"):
                break
            for words in answer.words.splitlines():
                say(words)
        if answer.what == "skipped":
            passed.add(asked.id)
        waiting = {each.id for each in book.record.questions}
        left = f"{count_of(len(waiting - passed), 'question')} left"
        skipped = f", {len(waiting & passed)} skipped" if waiting & passed else ""
        say(f"{answer.words or 'left open'}; {left}{skipped}")


def _read() -> str | None:
    """One line, or None at the end of the input."""
    if sys.stdin.isatty():
        click.echo("> ", nl=False)
    line = sys.stdin.readline()
    return line if line else None


def _show(asked: Asked) -> None:
    say("")
    say(f"{asked.text} ({asked.why})")
    for heard in asked.heard:
        say(f"  {heard.where}: “{heard.words}”")
    for each in asked.readings:
        say(f"  {each.letter}) {each.words}{f', {each.how}' if each.how else ''}")
    say(f"  now: {asked.stands or 'empty'}")


def _play(store: Store, book: Book, asked: Asked) -> None:
    from logger.player import play

    for heard in asked.heard:
        if heard.source:
            why = play(store, book.sources[heard.source], heard)
            if why:
                say(f"  {why}")
                return
