"""The commands on a library as a whole: its warranties, is it whole, a copy of it, and back from one; a job out of it,
and into one."""

from __future__ import annotations

from pathlib import Path

import click

from extract.errors import UsageError
from logger.options import State, as_json, job_name, library, library_folder
from logger.printing import count_of, counting, print_blocks, print_json, say, warn

MOST_DAYS = 36_500
"""A century ahead is as far as anybody asks."""


@click.command()
@click.argument("address", metavar="[ADDRESS]...", nargs=-1, help="All jobs there; those in force, if left out.")
@click.option("--on", metavar="2026-05-14", help="The day to look at; today if left out.")
@click.option(
    "--within",
    metavar="DAYS",
    type=click.IntRange(0, MOST_DAYS),
    help="What lapses or is due for care in so many days from then.",
)
@as_json
@click.pass_obj
def warranty(state: State, address: tuple[str, ...], on: str | None, within: int | None, as_json: bool) -> None:
    """Say which warranties are in force, at an address or on a day, and what lapses or is due for care."""
    from logger import jobs
    from logger import warranty as terms
    from logger.times import typed_day

    day, where = typed_day(on) if on else jobs.today(), " ".join(address)
    with library(state) as store:
        found, lines = terms.standings(store, day, where if address else None, within)
    if as_json:
        print_json([each.shape for each in found])
    elif found:
        print_blocks(terms.blocks(found))
    else:
        say(terms.nothing(day, where, within), err=True)
    warn(lines)


@click.command()
@click.argument("job", metavar="[JOB]", required=False, help="One job; the whole library if left out.")
@click.option("--repair", is_flag=True, help="Make anew what can be computed from the log.")
@click.option("--prune", is_flag=True, help="Delete the originals of what was removed.")
@click.option("--yes", is_flag=True, help="With --prune: do not ask.")
@click.pass_obj
def verify(state: State, job: str | None, repair: bool, prune: bool, yes: bool) -> None:
    """Check that every original, every entry and every job is whole, and say what is not."""
    from logger import verify as checks

    if repair and prune:
        raise UsageError("--repair and --prune are two things; give one of them")
    if prune:
        _prune(state, yes=yes)
        return
    with counting() as count:
        if repair:
            for line in checks.repair(library_folder(state), count):
                say(line)
        with library(state) as store:
            found = []
            for fault in checks.verify(store, job, count):
                found.append(fault)
                say(fault.words)
    if not found:
        say(f"{job or library_folder(state)}: whole")
        return
    if all(fault.computed for fault in found):
        say("all of it can be computed again: fallbook verify --repair", err=True)
    say(f"{count_of(len(found), 'fault')} found", err=True)
    raise click.exceptions.Exit(1)


def _prune(state: State, *, yes: bool) -> None:
    from logger import verify as checks

    with library(state) as store:
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
        return click.confirm(question, err=True)
    except click.Abort as error:  # Ctrl-C, or nobody to answer
        say("nothing was deleted", err=True)
        raise click.exceptions.Exit(130) from error


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path), help="A folder on another disk.")
@click.option("--all", "every", is_flag=True, help="Read every file there again, and mend those that rotted.")
@click.pass_obj
def backup(state: State, folder: Path, every: bool) -> None:
    """Copy the library into a folder: what is new since the last time, each file read back and checked."""
    from logger.backup import backup as copy

    failed = 0
    with library(state) as store, counting() as count:
        for line in copy(store, folder, lambda at, of: count("originals", at, of), every=every):
            failed += 1
            say(line, err=True)
    if failed:
        say(f"{folder}: backed up, but see to {count_of(failed, 'original')}", err=True)
        raise click.exceptions.Exit(1)
    say(f"{folder}: backed up; look at it with: fallbook --library {folder} show")


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path), help="The folder that backup wrote.")
@click.pass_obj
def restore(state: State, folder: Path) -> None:
    """Bring the library back to what a backup holds; what it holds beyond that is kept."""
    from logger.backup import restore as bring_back

    with counting() as count:
        for line in bring_back(folder, library_folder(state), lambda at, of: count("originals", at, of)):
            say(line)
    with library(state) as store:
        names = store.job_names()
    say(f"{library_folder(state)}: {count_of(len(names), 'job')}; check it with: fallbook verify")


@click.command()
@job_name
@click.option(
    "-o",
    "--output",
    "folder",
    metavar="DIR",
    required=True,
    type=click.Path(path_type=Path),
    help="The folder to make, which is not there yet.",
)
@click.pass_obj
def pack(state: State, job: str, folder: Path) -> None:
    """Pack one job into a folder of its own: its originals, log, record and report, with checksums."""
    from logger.archive.pack import pack as packed_into

    with library(state) as store, counting() as count:
        done = packed_into(store, job, folder, lambda at, of: count("originals", at, of))
    say(f"{job}: packed: {_counts(done.entries, done.originals)}; take it in with: fallbook unpack {folder}")
    warn(done.amiss)


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path), help="The folder that pack made.")
@click.option("--as", "name", metavar="NAME", help="What the job is to be called here, if not as it was.")
@click.pass_obj
def unpack(state: State, folder: Path, name: str | None) -> None:
    """Take a packed job into the library; where the job is there already, what it lacks."""
    from logger import jobs
    from logger.archive.unpack import opened
    from logger.archive.unpack import unpack as taken_from

    packed = opened(folder, name)
    fresh = not (library_folder(state) / "library.db").exists()
    with library(state, create=True) as store, counting() as count:
        done = taken_from(store, packed, lambda at, of: count("originals", at, of))
        if fresh:
            say(f"new library: {library_folder(state)}")
        changed = done.entries or done.originals
        say(f"{done.name}: {f'taken in: {_counts(done.entries, done.originals)}' if changed else 'nothing new'}")
        warn(done.amiss)
        jobs.settle(store, done.name)


def _counts(entries: int, originals: int) -> str:
    return f"{entries} {'entry' if entries == 1 else 'entries'}, {count_of(originals, 'original')}"


COMMANDS = (warranty, verify, backup, restore, pack, unpack)
