"""The commands. Each is a door to a function of logger.jobs and prints what comes back; nothing is decided here."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from extract.errors import FallbookError
from logger import cli_files, cli_library
from logger.options import AsJson, JobName, ModelName, Spoken, State, library, library_folder
from logger.printing import count_of, listening, print_blocks, print_json, say, warn

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    help="The field book of a drainage crew: sound, photos and words in; a checked as-built record and a report out.",
)
app.add_typer(cli_files.app)
app.add_typer(cli_library.app)


@app.callback(invoke_without_command=True)
def _before(
    context: typer.Context,
    folder: Annotated[
        Path | None,
        typer.Option("--library", metavar="DIR", envvar="FALLBOOK_LIBRARY", help="Where the jobs are kept."),
    ] = None,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the program an error arose.")] = False,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    context.obj.library, context.obj.debug = folder, debug
    if version:
        from importlib import metadata

        typer.echo(f"fallbook {metadata.version('fallbook')}")
        raise typer.Exit()
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


# -- a job


@app.command()
def new(
    context: typer.Context,
    job: JobName,
    client: Annotated[str, typer.Option(help="Who the work is for.")],
    address: Annotated[str, typer.Option(help="Where the site is.")],
    company: Annotated[str, typer.Option(metavar="FILE", help="The firm's company file (TOML).")],
    day: Annotated[str | None, typer.Option(metavar="2026-05-14", help="Day of the work; today if left out.")] = None,
    zone: Annotated[
        str | None, typer.Option(metavar="-05:00", help="The site's offset from UTC; this machine's if left out.")
    ] = None,
) -> None:
    """Start a job."""
    from logger import jobs
    from logger.times import typed_day

    on = typed_day(day) if day else None
    fresh = not (library_folder(context) / "library.db").exists()
    with library(context, create=True) as store:
        made = jobs.new(store, job, client=client, address=address, company=company, day=on, zone=zone)
    if fresh:
        say(f"new library: {library_folder(context)}")
    say(f"{made.name}: started, {made.day}, UTC{made.zone}. Next: fallbook take {made.name} FILES")


@app.command()
def take(
    context: typer.Context,
    job: JobName,
    paths: Annotated[
        list[Path], typer.Argument(metavar="PATH...", help="Files and folders: sound, photos, text notes.")
    ],
    model: ModelName = None,
    language: Spoken = None,
) -> None:
    """Take sound, photos and text notes into a job, and hear the sound."""
    from logger import jobs

    outcomes: list[str] = []
    with library(context) as store, listening() as begin:
        for result in jobs.take(store, job, paths, listening=begin, model=model, language=language):
            outcomes.append(result.outcome)
            say(result.line, err=result.outcome in ("warning", "failed"))
        jobs.settle(store, job)
    failed = outcomes.count("failed")
    counts = f"{outcomes.count('taken')} taken, {outcomes.count('already')} already there, {failed} failed"
    say(counts, err=bool(failed))
    if failed:
        raise typer.Exit(1)


@app.command("say")
def say_note(
    context: typer.Context,
    job: JobName,
    text: Annotated[list[str], typer.Argument(metavar="WORDS...", help="The note.")],
    at: Annotated[
        str | None, typer.Option(metavar="TIME", help="14:05 on the job's day, or 2026-05-14T14:05; now if left out.")
    ] = None,
) -> None:
    """Add one typed note to a job."""
    from logger import jobs
    from logger.book import Book
    from logger.settle import in_background

    with library(context) as store:
        note = jobs.say(store, job, " ".join(text), at)
        say(f"{job}: noted at {note.at:%Y-%m-%d %H:%M:%S}")
        in_background(store.folder)
        book = Book(store, job)
        warn([*book.problems, *book.remarks])


@app.command(context_settings={"ignore_unknown_options": True})
def amend(
    context: typer.Context,
    job: JobName,
    subject: Annotated[str, typer.Argument(metavar="SUBJECT", help="A label such as R-2, or note:14.")],
    field: Annotated[str, typer.Argument(metavar="FIELD", help="A field such as length_ft, or text of a note.")],
    value: Annotated[str, typer.Argument(metavar="VALUE", help="What it should be; none empties it.")],
) -> None:
    """Correct a field of the record, or a note's words."""
    from logger import changes, jobs

    with library(context) as store:
        done, before = changes.amend(store, job, subject, field, value)
        say(f"{job}: {subject} {field} is now {'empty' if done.value is None else done.value}")
        say(f"was: {before or 'empty'}")
        jobs.settle(store, job)


@app.command()
def remove(
    context: typer.Context,
    job: JobName,
    what: Annotated[
        str | None,
        typer.Argument(metavar="[WHAT]", help="R-2, note:14, photo:7 or file:NAME; the whole job if left out."),
    ] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Put it back.")] = False,
) -> None:
    """Take out a job, or a thing, note, photo or file that does not belong; nothing is deleted."""
    from logger import changes, jobs

    with library(context) as store:
        words = changes.remove(store, job, what, undo=undo)
        say(f"{job}: {'back' if undo else 'removed'}: {words if what else 'the job'}")
        if not undo:
            say(f"put it back with: fallbook remove {job} {what + ' ' if what else ''}--undo")
        jobs.settle(store, job)


@app.command()
def show(
    context: typer.Context,
    job: Annotated[str | None, typer.Argument(metavar="[JOB]", help="A job; all jobs are listed if left out.")] = None,
    subject: Annotated[
        str | None, typer.Argument(metavar="[WHAT]", help="R-2, CB-1, note:14, photo:7; the whole job if left out.")
    ] = None,
) -> None:
    """Show the jobs, one job, or where a figure of it comes from."""
    from logger import show as pages
    from logger.book import Book

    with library(context) as store:
        if job is None:
            print_blocks(pages.jobs(store))
            return
        book = Book(store, job)
        print_blocks(pages.thing(book, subject) if subject else pages.job(book))
        warn([*book.problems, *book.remarks])
        book.keep()


@app.command()
def ready(
    context: typer.Context,
    job: JobName,
    run: Annotated[str | None, typer.Argument(metavar="[RUN]", help="R-2 or 2; every run if left out.")] = None,
    as_json: AsJson = False,
) -> None:
    """May I backfill? Say what the book still lacks of each run."""
    from dataclasses import asdict

    from logger.ready import ready as answers_of

    with library(context) as store:
        answers = answers_of(store, job)
    for name in answers.unheard:
        say(f"fallbook: {name!r} is not heard yet, so nothing of it counts here; run take again", err=True)
    chosen = [answers.of(run)] if run else [each for each in answers.runs if each.built]
    if as_json:
        print_json([asdict(each) | {"words": each.words} for each in chosen])
        return
    for each in chosen:
        say(each.words)
    if not chosen:
        say("No run has been put in yet.")


@app.command()
def report(
    context: typer.Context,
    job: JobName,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FILE.docx", help="JOB-report.docx here if left out.")
    ] = None,
) -> None:
    """Write the close-out report with its drawings and warranty."""
    from logger import jobs

    with library(context) as store:
        paths, made_from, problems = jobs.report(store, job, output or Path(f"{job}-report.docx"))
    for path in paths:
        say(str(path))
    warn(problems)
    outcomes = [finding.outcome for finding in made_from.findings]
    asked, fail, attention = len(made_from.record.questions), outcomes.count("fail"), outcomes.count("attention")
    word, verb = "question" if asked == 1 else "questions", "needs" if attention == 1 else "need"
    say(f"{asked} {word} open; of the checks {fail} fail and {attention} {verb} attention")


@app.command()
def find(
    context: typer.Context,
    words: Annotated[
        list[str], typer.Argument(metavar="WORDS...", help="All of them must stand together in a note or entry.")
    ],
) -> None:
    """Find words in the notes, records and addresses of all jobs."""
    from logger import jobs
    from logger import show as pages
    from logger.settle import in_background

    with library(context) as store:
        found = jobs.find(store, " ".join(words))
        if found.of_earlier and store.writable:
            in_background(store.folder)
    if found.hits:
        print_blocks(pages.hits(found.hits))
    else:
        say(f"nothing found for: {' '.join(words)}", err=True)
    warn(f"{job}: not searched: {why}" for job, why in found.unread.items())
    if found.of_earlier and store.writable:
        jobs_ = count_of(found.of_earlier, "job")
        warn([f"{jobs_} as an earlier version read it; all are read again in the background"])


# -- the way in and out


def run(args: list[str]) -> int:
    """Run one command as typed; the exit code: 0 done, 1 failed, 2 wrong usage, 130 interrupted."""
    state = State()
    try:
        code = app(args, standalone_mode=False, prog_name="fallbook", obj=state)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # whoever was reading has had enough
        return 1
    except KeyboardInterrupt:
        return _stopped()
    except Exception as error:
        if state.debug:
            raise
        return _failed(error)
    return _stopped() if code == 130 else int(code or 0)


def _stopped() -> int:
    say("fallbook: interrupted; what was done so far is kept, run it again to go on", err=True)
    return 130


def _failed(error: Exception) -> int:
    """One line for whatever went wrong."""
    if isinstance(error, FallbookError):
        say(f"fallbook: {error}", err=True)
        return error.exit_code
    if isinstance(error, typer.TyperException):
        hint = getattr(getattr(error, "ctx", None), "command_path", "fallbook")
        said = error.format_message().replace("Value error, ", "")
        say(f"fallbook: {said} (see: {hint} --help)", err=True)
        return int(error.exit_code)
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        say(f"fallbook: {error.filename or 'the disk'}: the disk is full; make room and run it again", err=True)
        return 1
    if isinstance(error, OSError) and error.strerror:
        say(f"fallbook: {error.filename or 'a file'}: {error.strerror}; check the name and the rights", err=True)
        return 1
    what = " ".join(str(error).split()) or "no more is known"
    say(f"fallbook: {type(error).__name__}: {what}; run it again with --debug before the command", err=True)
    return 1


def main() -> None:
    """The command line."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a sign is no reason to stop
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
