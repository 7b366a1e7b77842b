"""The commands. Each is a door to a function of logger.jobs and prints what comes back; nothing is decided here."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from extract.errors import FallbookError

if TYPE_CHECKING:
    from logger.show import Block
    from logger.store import Store

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    help="The field book of a drainage crew: sound, photos and words in; a checked as-built record and a report out.",
)
PLAIN_WIDTH = 160
"""Columns of a table that goes into a file or another program."""

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


@app.callback(invoke_without_command=True)
def _before(
    context: typer.Context,
    library: Annotated[
        Path | None,
        typer.Option("--library", metavar="DIR", envvar="FALLBOOK_LIBRARY", help="Where the jobs are kept."),
    ] = None,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the program an error arose.")] = False,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.")] = False,
) -> None:
    context.obj.library, context.obj.debug = library, debug
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
    with _library(context) as store:
        made = jobs.new(store, job, client=client, address=address, company=company, day=on, zone=zone)
    typer.echo(f"{made.name}: started, {made.day}, UTC{made.zone}. Next: fallbook take {made.name} FILES")


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
    from logger.ready import prepare

    outcomes: list[str] = []
    with _library(context) as store, _listening() as listening:
        for result in jobs.take(store, job, paths, listening=listening, model=model, language=language):
            outcomes.append(result.outcome)
            typer.echo(result.line, err=result.outcome in ("warning", "failed"))
        prepare(store, job)
    failed = outcomes.count("failed")
    counts = (
        f"{outcomes.count('taken')} taken, {outcomes.count('already')} already there, {failed} not as they should be"
    )
    typer.echo(counts, err=bool(failed))
    if failed:
        raise typer.Exit(1)


@app.command()
def say(
    context: typer.Context,
    job: JobName,
    text: Annotated[list[str], typer.Argument(metavar="WORDS...", help="The note.")],
    at: Annotated[
        str | None, typer.Option(metavar="TIME", help="14:05 on the job's day, or 2026-05-14T14:05; now if left out.")
    ] = None,
) -> None:
    """Add one typed note to a job."""
    from logger import jobs
    from logger.ready import prepare

    with _library(context) as store:
        note = jobs.say(store, job, " ".join(text), at)
        typer.echo(f"{job}: noted at {note.at:%Y-%m-%d %H:%M:%S}")
        prepare(store, job)


@app.command(context_settings={"ignore_unknown_options": True})
def amend(
    context: typer.Context,
    job: JobName,
    subject: Annotated[str, typer.Argument(metavar="SUBJECT", help="A label such as R-2, or note:14.")],
    field: Annotated[str, typer.Argument(metavar="FIELD", help="A field such as length_ft, or text of a note.")],
    value: Annotated[str, typer.Argument(metavar="VALUE", help="What it should be; none empties it.")],
) -> None:
    """Correct a field of the record, or a note's words."""
    from logger import jobs
    from logger.ready import prepare
    from logger.show import clean

    with _library(context) as store:
        done, before = jobs.amend(store, job, subject, field, value)
        typer.echo(f"{job}: {subject} {field} is now {'empty' if done.value is None else done.value}")
        typer.echo(f"was: {clean(before) if before else 'empty'}")
        prepare(store, job)


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

    with _library(context) as store:
        if job is None:
            _print(pages.jobs(store))
        else:
            book = Book(store, job)
            _print(pages.thing(book, subject) if subject else pages.job(book))


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

    with _library(context) as store:
        answers = answers_of(store, job)
    for name in answers.unheard:
        typer.echo(f"fallbook: {name!r} is not heard yet, so nothing of it counts here; run take again", err=True)
    chosen = [answers.of(run)] if run else [each for each in answers.runs if each.built]
    if as_json:
        _print_json([asdict(each) | {"words": each.words} for each in chosen])
        return
    for each in chosen:
        typer.echo(each.words)
    if not chosen:
        typer.echo("No run has been put in yet.")


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

    with _library(context) as store:
        paths, made_from = jobs.report(store, job, output or Path(f"{job}-report.docx"))
    for path in paths:
        typer.echo(str(path))
    outcomes = [finding.outcome for finding in made_from.findings]
    asked, fail, attention = len(made_from.record.questions), outcomes.count("fail"), outcomes.count("attention")
    word, verb = "question" if asked == 1 else "questions", "needs" if attention == 1 else "need"
    typer.echo(f"{asked} {word} open; of the checks {fail} fail and {attention} {verb} attention")


@app.command()
def find(
    context: typer.Context,
    words: Annotated[
        list[str], typer.Argument(metavar="WORDS...", help="All of them must stand together in a note or entry.")
    ],
) -> None:
    """Find words in the notes, records and addresses of all jobs."""
    from logger import jobs
    from logger.show import clean, table

    with _library(context) as store:
        hits = jobs.find(store, " ".join(words))
    if not hits:
        typer.echo(f"nothing found for: {' '.join(words)}", err=True)
        return
    made = table("job", "day", "what", "note", "time", "photos", "words")
    for hit in hits:
        note = "" if hit.note is None else f"note:{hit.note}"
        photos = " ".join(f"photo:{number}" for number in hit.photos)
        made.add_row(hit.job, hit.day, hit.what, note, hit.at or "", photos, clean(hit.words))
    _print([made])


# -- no library


@app.command()
def hear(
    sounds: Annotated[list[str], typer.Argument(metavar="SOUND...", help="Recordings; - reads standard input.")],
    as_json: AsJson = False,
    extract: Annotated[bool, typer.Option("--extract", help="Print the record the notes make, not the notes.")] = False,
    model: ModelName = None,
    language: Spoken = None,
) -> None:
    """Hear recordings without keeping them: notes, or the record they make."""
    from logger import jobs

    heard = []
    failed = False
    with _listening() as listening:
        for path, result in jobs.hear_files(sounds, listening=listening, model=model, language=language):
            if isinstance(result, FallbookError):
                failed = True
                typer.echo(f"fallbook: {result}", err=True)
                continue
            if not result:
                typer.echo(f"fallbook: {path}: no speech was heard in it", err=True)
            heard.append((path, result))
    if extract:
        _print_record([note for _, notes in heard for note in notes], as_json)
    elif as_json:
        _print_json(
            [
                {"file": path} | note.model_dump(mode="json", exclude_none=True)
                for path, notes in heard
                for note in notes
            ]
        )
    else:
        from logger import show as pages

        for path, notes in heard:
            _print(pages.heard(path, notes))
    if failed:
        raise typer.Exit(1)


@app.command()
def extract(
    notes: Annotated[
        str, typer.Argument(metavar="NOTES.txt", help="A text log, one note a line; - reads standard input.")
    ],
    as_json: AsJson = False,
) -> None:
    """Read a text log into a record."""
    from extract.notes import parse_log
    from logger.intake import read_file
    from logger.sniff import decoded

    read = parse_log(decoded(read_file(notes), notes))
    if not read:
        name = "standard input" if notes == "-" else notes
        raise FallbookError(f"{name}: no note in it; write one note a line")
    _print_record(read, as_json)


@app.command()
def check(
    record: Annotated[
        str, typer.Argument(metavar="RECORD.json", help="A record as extract prints it; - reads standard input.")
    ],
    storm: Annotated[
        str | None,
        typer.Option(metavar="IN_PER_HOUR", help="Design rainfall in inches an hour, to hold the pipes against."),
    ] = None,
    company: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="A company file (TOML), for its own limits and its storm."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Recompute lengths, slopes, levels and flow of a record and list the findings."""
    from logger import jobs

    found = jobs.check_file(record, storm, company)
    if as_json:
        _print_json([finding.model_dump(mode="json", exclude_none=True) for finding in found])
    else:
        from logger import show as pages

        _print(pages.findings(found))


# -- printing


def _print_record(notes: list[Any], as_json: bool) -> None:
    from extract.assemble import assemble

    record = assemble(notes)
    if as_json:
        _print_json(record.as_json())
    else:
        from logger import show as pages

        _print(pages.record(record))


def _print_json(shape: object) -> None:
    typer.echo(json.dumps(shape, ensure_ascii=False, indent=1))


def _print(blocks: Iterable[Block]) -> None:
    from rich.console import Console

    terminal = sys.stdout.isatty()
    console = Console(width=None if terminal else PLAIN_WIDTH, markup=False, highlight=False, emoji=False)
    for block in blocks:
        with console.capture() as text:
            console.print(block, soft_wrap=isinstance(block, str))
        for line in text.get().splitlines():
            typer.echo(line.rstrip())


@contextmanager
def _library(context: typer.Context) -> Iterator[Store]:
    from logger.store import library_folder, open_store

    with open_store(context.obj.library or library_folder()) as store:
        yield store


@contextmanager
def _listening() -> Iterator[Callable[[str], Callable[[float, float], None]]]:
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
            task = progress.add_task(name, total=None, words="")
            pace = Pace()
            return lambda done, total: progress.update(
                task, completed=done, total=total, visible=done < total, words=pace.words(done, total)
            )

        yield begin


def _plainly(name: str) -> Callable[[float, float], None]:
    """One line a recording, and another each minute that it takes."""
    from logger.pace import now_and_then

    typer.echo(f"hearing {name} ...", err=True)
    return now_and_then(lambda words: typer.echo(f"{name}: {words}", err=True))


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
    typer.echo("fallbook: interrupted; what was done so far is kept, run it again to go on", err=True)
    return 130


def _failed(error: Exception) -> int:
    """One line for whatever went wrong."""
    if isinstance(error, FallbookError):
        typer.echo(f"fallbook: {error}", err=True)
        return error.exit_code
    if isinstance(error, typer.TyperException):
        hint = getattr(getattr(error, "ctx", None), "command_path", "fallbook")
        said = error.format_message().replace("Value error, ", "")
        typer.echo(f"fallbook: {said} (see: {hint} --help)", err=True)
        return int(error.exit_code)
    what = " ".join(str(error).split()) or "no more is known"
    typer.echo(f"fallbook: {type(error).__name__}: {what}; run it again with --debug before the command", err=True)
    return 1


def main() -> None:
    """The command line."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a sign is no reason to stop
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
