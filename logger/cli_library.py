"""The commands on a library as a whole: is it whole, a copy of it, and back from one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from extract.errors import UsageError
from logger.options import library, library_folder
from logger.printing import count_of, counting, say

app = typer.Typer()


@app.command()
def verify(
    context: typer.Context,
    job: Annotated[str | None, typer.Argument(metavar="[JOB]", help="One job; the whole library if left out.")] = None,
    repair: Annotated[bool, typer.Option("--repair", help="Make anew what can be computed from the log.")] = False,
    prune: Annotated[bool, typer.Option("--prune", help="Delete the originals of what was removed.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="With --prune: do not ask.")] = False,
) -> None:
    """Check that every original, every entry and every job is whole, and say what is not."""
    from logger import verify as checks

    if repair and prune:
        raise UsageError("--repair and --prune are two things; give one of them")
    if prune:
        _prune(context, yes=yes)
        return
    with counting() as count:
        if repair:
            for line in checks.repair(library_folder(context), count):
                say(line)
        with library(context) as store:
            found = []
            for fault in checks.verify(store, job, count):
                found.append(fault)
                say(fault.words)
    if not found:
        say(f"{job or library_folder(context)}: whole")
        return
    if all(fault.computed for fault in found):
        say("all of it can be computed again: fallbook verify --repair", err=True)
    say(f"{count_of(len(found), 'fault')} found", err=True)
    raise typer.Exit(1)


def _prune(context: typer.Context, *, yes: bool) -> None:
    from logger import verify as checks

    with library(context) as store:
        chosen = checks.prunable(store)
        for name in sorted(chosen.values()):
            say(name)
        if not chosen:
            say("nothing to delete: no original belongs to removed jobs, files and photos alone")
        elif yes or _agreed(f"delete {count_of(len(chosen), 'original')} for good?"):
            freed = checks.prune(store, chosen)
            say(f"deleted, {freed / 1e6:.1f} MB; the log keeps the SHA-256")
        else:
            say("nothing was deleted")


def _agreed(question: str) -> bool:
    try:
        return typer.confirm(question, err=True)
    except typer.Abort as error:  # Ctrl-C, or nobody to answer
        say("nothing was deleted", err=True)
        raise typer.Exit(130) from error


@app.command()
def backup(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder on another disk.")],
    every: Annotated[
        bool, typer.Option("--all", help="Read every file there again, and mend those that rotted.")
    ] = False,
) -> None:
    """Copy the library into a folder: what is new since the last time, each file read back and checked."""
    from logger.backup import backup as copy

    failed = 0
    with library(context) as store, counting() as count:
        for line in copy(store, folder, lambda at, of: count("originals", at, of), every=every):
            failed += 1
            say(line, err=True)
    if failed:
        say(f"{folder}: backed up, but see to {count_of(failed, 'original')}", err=True)
        raise typer.Exit(1)
    say(f"{folder}: backed up; look at it with: fallbook --library {folder} show")


@app.command()
def restore(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The folder that backup wrote.")],
) -> None:
    """Bring the library back to what a backup holds; what it holds beyond that is kept."""
    from logger.backup import restore as bring_back

    with counting() as count:
        for line in bring_back(folder, library_folder(context), lambda at, of: count("originals", at, of)):
            say(line)
    with library(context) as store:
        names = store.job_names()
    say(f"{library_folder(context)}: {count_of(len(names), 'job')}; check it with: fallbook verify")
