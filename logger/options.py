"""Arguments and options that several commands share, and the library that they work on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from logger.store import Store

job_name = click.argument("job", metavar="JOB", help="The job's short name.")
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document on standard output.")
model_name = click.option("--model", metavar="NAME", help="A speech model's folder or name, in place of the default.")
spoken = click.option(
    "--language",
    type=click.Choice(["en", "es"]),
    help="What is spoken, English or Spanish; told from each note's sound if left out.",
)


@dataclass
class State:
    """What stands before the command."""

    library: Path | None = None
    debug: bool = False


def library_folder(state: State) -> Path:
    """The folder of the library that was named, or this user's own."""
    from logger.store import library_folder

    return Path(state.library or library_folder())


@contextmanager
def library(state: State, *, create: bool = False) -> Iterator[Store]:
    """The library, open; made where there is none only if `create`."""
    from logger.printing import reading_told
    from logger.store import open_store

    with open_store(library_folder(state), create=create) as store:
        store.reading = reading_told()
        yield store
