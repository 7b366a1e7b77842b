"""Arguments and options that several commands share, and the library that they work on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from logger.store import Store

JobName = Annotated[str, typer.Argument(metavar="JOB", help="The job's short name.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document on standard output.")]
ModelName = Annotated[
    str | None,
    typer.Option("--model", metavar="NAME", help="A speech model's folder or name, in place of the default."),
]
Spoken = Annotated[
    Literal["en", "es"] | None,
    typer.Option("--language", help="What is spoken, English or Spanish; told from each note's sound if left out."),
]


@dataclass
class State:
    """What stands before the command."""

    library: Path | None = None
    debug: bool = False


def library_folder(context: typer.Context) -> Path:
    """The folder of the library that was named, or this user's own."""
    from logger.store import library_folder

    return Path(context.obj.library or library_folder())


@contextmanager
def library(context: typer.Context, *, create: bool = False) -> Iterator[Store]:
    """The library, open; made where there is none only if `create`."""
    from logger.store import open_store

    with open_store(library_folder(context), create=create) as store:
        yield store
