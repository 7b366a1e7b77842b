"""The commands. Each is a door to a function of logger.jobs and prints what comes back; nothing is decided here."""

from __future__ import annotations

import errno
import gc
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from extract.errors import FallbookError
from logger import VERSION, cli_ask, cli_files, cli_library, cli_listen, cli_serve
from logger.options import State, as_json, job_name, library, library_folder, model_name, spoken
from logger.printing import count_of, listening, print_blocks, print_json, say, warn

if TYPE_CHECKING:
    from extract.record import Language
    from reports.closeout import Reader
    from reports.job import Closeout

READERS = ("client", "record", "locate")
"""As in `reports.closeout`, which is slow to load."""
OBJECTS = 100_000
"""How many more objects there are before cycles among them are looked for. After each 700, as Python does it, that took
a third of the time of showing a job of 8,000 notes."""


class Command(click.Command):
    """A command that names all that is missing of its line, not the first alone."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except click.MissingParameter as first:
            # What was given is taken before anything is missed.
            missing = [each for each in self.params if each.required and each.name not in ctx.params]
            if len(missing) < 2:
                raise
            from reports.words import joined

            raise click.UsageError(f"Missing {joined(each.get_error_hint(ctx) for each in missing)}.", ctx) from first


class Commands(click.Group):
    """The commands in the order of a day's work, each with the whole of its line of help."""

    command_class = Command

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        cmd.short_help = cmd.help
        super().add_command(cmd, name)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(cls=Commands, invoke_without_command=True)
@click.option(
    "--library",
    metavar="DIR",
    type=click.Path(path_type=Path),
    envvar="FALLBOOK_LIBRARY",
    show_envvar=True,
    help="Where the jobs are kept.",
)
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
@click.option("--version", is_flag=True, help="Print the version and stop.")
@click.pass_context
def app(context: click.Context, library: Path | None, debug: bool, version: bool) -> None:
    """The field book of a drainage crew: sound, photos and words in; a checked as-built record and a report out."""
    context.obj.library, context.obj.debug = library, debug
    if version:
        click.echo(f"fallbook {VERSION}")
        context.exit()
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


# -- a job


NO_COMPANY = (
    "say which company file: --company FILE. It holds the firm's name, licence, crew and warranty terms; "
    "copy sample_logs/company.toml and put in your own"
)


class NewJob(Command):
    """Of a visit, what an old job tells need not be said again."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        visit = any(each.partition("=")[0] == "--callback-of" for each in args)
        for each in self.params:
            if each.name in ("client", "address", "company"):
                each.required = not visit
        try:
            return super().parse_args(ctx, args)
        except click.MissingParameter as error:
            if error.param and error.param.name == "company":
                raise click.UsageError(NO_COMPANY) from error
            raise


@app.command(cls=NewJob)
@job_name
@click.option("--client", required=True, help="Who the work is for.")
@click.option("--address", required=True, help="Where the site is.")
@click.option("--company", metavar="FILE", required=True, help="The firm's company file (TOML).")
@click.option("--day", metavar="2026-05-14", help="Day of the work; today if left out.")
@click.option("--zone", metavar="-05:00", help="The site's offset from UTC; this machine's if left out.")
@click.option(
    "--callback-of", metavar="JOB", help="The old job that this is a visit to; all but the day comes from it."
)
@click.pass_obj
def new(
    state: State,
    job: str,
    client: str | None,
    address: str | None,
    company: str | None,
    day: str | None,
    zone: str | None,
    callback_of: str | None,
) -> None:
    """Start a job, or a visit to an old one."""
    from logger import jobs
    from logger.times import typed_day
    from logger.warranty import of_visit

    on = typed_day(day) if day else None
    fresh = not (library_folder(state) / "library.db").exists()
    with library(state, create=True) as store:
        made = jobs.new(
            store, job, client=client, address=address, company=company, day=on, zone=zone, callback_of=callback_of
        )
        told = of_visit(store, made)
    if fresh:
        say(f"new library: {library_folder(state)}")
    say(f"{made.name}: started, {made.day}, UTC{made.zone}. Next: fallbook take {made.name} FILES")
    for line in told:
        say(line)


@app.command()
@job_name
@click.argument(
    "paths",
    metavar="PATH...",
    nargs=-1,
    required=True,
    type=click.Path(path_type=Path),
    help="Files and folders: sound, photos, text notes.",
)
@model_name
@spoken
@click.pass_obj
def take(state: State, job: str, paths: tuple[Path, ...], model: str | None, language: Language | None) -> None:
    """Take sound, photos and text notes into a job, and hear the sound."""
    from logger import jobs

    outcomes: list[str] = []
    with library(state) as store, listening() as begin:
        for result in jobs.take(store, job, paths, listening=begin, model=model, language=language):
            outcomes.append(result.outcome)
            say(result.line, err=result.outcome in ("warning", "failed"))
        jobs.settle(store, job)
    failed = outcomes.count("failed")
    counts = f"{outcomes.count('taken')} taken, {outcomes.count('already')} already there, {failed} failed"
    say(counts, err=bool(failed))
    if failed:
        raise click.exceptions.Exit(1)


@app.command("say")
@job_name
@click.argument("text", metavar="WORDS...", nargs=-1, required=True, help="The note.")
@click.option("--at", metavar="TIME", help="14:05 on the job's day, or 2026-05-14T14:05; now if left out.")
@click.option("--quiet", is_flag=True, help="Do not read back what was understood.")
@click.pass_obj
def say_note(state: State, job: str, text: tuple[str, ...], at: str | None, quiet: bool) -> None:
    """Add one typed note to a job, and read back what was understood."""
    from logger import jobs
    from logger.settle import in_background

    with library(state) as store:
        noted = jobs.say(store, job, " ".join(text), at)
        say(f"{job}: noted at {noted:%Y-%m-%d %H:%M:%S}")
        try:
            if not quiet and (understood := jobs.read_back(store, job, " ".join(text))):
                say(understood)
            warn(jobs.amiss(store, job))
        finally:
            in_background(store.folder)  # last, for it takes the disk and a processor


app.add_command(cli_listen.listen)
app.add_command(cli_ask.ask)
app.add_command(cli_serve.serve)


@app.command(context_settings={"ignore_unknown_options": True})
@job_name
@click.argument(
    "subject",
    metavar="SUBJECT",
    help="R-2, test:1, 'CB-1 rim', note:14, photo:7; levels, points, changes, purchases; client, address, day, zone.",
)
@click.argument(
    "field",
    metavar="FIELD",
    help="A field such as length, tie, crossing or fittings; text of a note; shows or backfill of a photo; "
    "left out of levels, points, changes, purchases and a job's fact.",
)
@click.argument(
    "value",
    metavar="[VALUE]...",
    nargs=-1,
    help="What it should be, such as 34 ft 8, or of fittings: a 45 at 12; none empties it.",
)
@click.pass_obj
def amend(state: State, job: str, subject: str, field: str, value: tuple[str, ...]) -> None:
    """Correct a field, a note's words, a photo or the job's own facts; add a rod reading, tie, crossing or change."""
    from logger import changes, jobs

    with library(state) as store:
        done = changes.amend(store, job, subject, field, " ".join(value) if value else None)
        say(f"{job}: {done.words}")
        say(f"was: {done.before or 'empty'}")
        jobs.settle(store, job)


@app.command()
@job_name
@click.argument("what", metavar="WHAT", help="R-2; or, where it fails several checks, 'R-2 min slope'.")
@click.argument("words", metavar="WORDS...", nargs=-1, required=True, help="Why it is accepted.")
@click.pass_obj
def accept(state: State, job: str, what: str, words: tuple[str, ...]) -> None:
    """Answer a check that fails with a sentence; it stays failed, and says so."""
    from logger import jobs
    from logger.accept import accept as answer

    with library(state) as store:
        say(f"{job}: {answer(store, job, what, ' '.join(words)).words}")
        jobs.settle(store, job)


@app.command()
@job_name
@click.argument(
    "what", metavar="[WHAT]", required=False, help="R-2, note:14, photo:7 or file:NAME; the whole job if left out."
)
@click.option("--undo", is_flag=True, help="Put it back.")
@click.pass_obj
def remove(state: State, job: str, what: str | None, undo: bool) -> None:
    """Take out a job, or a thing, note, photo or file that does not belong; nothing is deleted."""
    from logger import changes, jobs

    with library(state) as store:
        words = changes.remove(store, job, what, undo=undo)
        say(f"{job}: {'back' if undo else 'removed'}: {words if what else 'the job'}")
        if not undo:
            say(f"put it back with: fallbook remove {job} {what + ' ' if what else ''}--undo")
        jobs.settle(store, job)


@app.command()
@click.argument("job", metavar="[JOB]", required=False, help="A job; all jobs are listed if left out.")
@click.argument(
    "subject",
    metavar="[WHAT]",
    required=False,
    help="R-2, 'run two', benchmark, 'CB-1 rim', note:14, photo:7; the whole job if left out.",
)
@click.pass_obj
def show(state: State, job: str | None, subject: str | None) -> None:
    """Show the jobs, one job, or where a figure of it comes from."""
    with library(state) as store:
        if job is None:
            from logger import listing

            blocks, damaged = listing.jobs(store)
            print_blocks(blocks)
            warn(damaged)
            return
        from logger import show as pages
        from logger import show_one
        from logger.book import Book

        book = Book(store, job)
        print_blocks(show_one.thing(book, subject) if subject else pages.job(book))
        warn([*book.problems, *book.remarks])
        book.keep()


@app.command()
@job_name
@click.argument("run", metavar="[RUN]", required=False, help="R-2, 2 or 'run two'; every run if left out.")
@as_json
@click.pass_obj
def ready(state: State, job: str, run: str | None, as_json: bool) -> None:
    """May I backfill? Say what the book still lacks of each run."""
    from dataclasses import asdict

    from logger.ready import ready as answers_of

    with library(state) as store:
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
@job_name
@click.option(
    "-o",
    "--output",
    metavar="FILE.docx",
    type=click.Path(path_type=Path),
    help="JOB-report.docx, JOB-record.docx or JOB-locate.docx here if left out.",
)
@click.option(
    "--for",
    "reader",
    type=click.Choice(READERS),
    default="client",
    show_default=True,
    help="Who reads it: the client; the firm and the next contractor; whoever must find the drain again.",
)
@click.option("--draft", is_flag=True, help="Make it though something is not settled, and mark every page.")
@click.option(
    "--language",
    type=click.Choice(["en", "es"]),
    help="What the client reads, English or Spanish; as the company file says if left out. The record is in English.",
)
@click.option("--pdf", is_flag=True, help="Make a PDF of it too, beside it; needs LibreOffice.")
@click.pass_obj
def report(
    state: State, job: str, output: Path | None, reader: Reader, draft: bool, language: Language | None, pdf: bool
) -> None:
    """Write the report with its plan and warranty."""
    from logger import jobs
    from reports.settled import NotSettledError

    path = output or Path(f"{job}-{'report' if reader == 'client' else reader}.docx")
    with library(state) as store:
        try:
            paths, made_from, problems = jobs.report(
                store, job, path, reader=reader, draft=draft, language=language, pdf=pdf
            )
        except NotSettledError as error:
            for line in error.lines:
                say(f"  {line}", err=True)
            raise
    for each in paths:
        say(str(each))
    warn(problems)
    if reader == "record":
        say(f"{count_of(len(made_from.record.questions), 'question')} open; of the checks {_checks(made_from)}")


@app.command()
@job_name
@click.option(
    "-o",
    "--output",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="A folder, made where it is missing; JOB-export here if left out.",
)
@click.pass_obj
def export(state: State, job: str, output: Path | None) -> None:
    """Write the record in open formats for the firm: CSV tables with the take-off, JSON, GeoJSON and DXF."""
    from logger import jobs

    with library(state) as store:
        paths, lines, problems = jobs.export(store, job, output or Path(f"{job}-export"))
    for each in paths:
        say(str(each))
    for line in lines:
        say(line)
    warn(problems)


def _checks(made_from: Closeout) -> str:
    """`2 fail, 1 is accepted and 3 need attention`: a failed check that the firm accepted counts as accepted alone."""
    from extract.check.accepted import is_accepted

    outcomes = [finding.outcome for finding in made_from.findings]
    accepted = sum(is_accepted(made_from.record, finding) for finding in made_from.findings)
    fail, attention = outcomes.count("fail") - accepted, outcomes.count("attention")
    told = f", {accepted} {'is' if accepted == 1 else 'are'} accepted" if accepted else ""
    needs = f"{attention} {'needs' if attention == 1 else 'need'} attention"
    return f"{fail} {'fails' if fail == 1 else 'fail'}{told} and {needs}"


@app.command()
@click.argument(
    "words",
    metavar="WORDS...",
    nargs=-1,
    required=True,
    help="All of them must stand together in a note or entry.",
)
@click.pass_obj
def find(state: State, words: tuple[str, ...]) -> None:
    """Find words in the notes, records and addresses of all jobs."""
    from logger import jobs, listing

    with library(state) as store:
        found = jobs.find(store, " ".join(words))
        if found.of_earlier and store.writable:
            from logger.settle import in_background

            in_background(store.folder)
    if found.hits:
        print_blocks(listing.hits(found.hits))
    else:
        say(f"nothing found for: {' '.join(words)}", err=True)
    warn(f"{job}: not searched: {why}" for job, why in found.unread.items())
    if found.of_earlier and store.writable:
        jobs_ = count_of(found.of_earlier, "job")
        warn([f"{jobs_} as an earlier version read it; all are read again in the background"])


for command in (*cli_files.COMMANDS, *cli_library.COMMANDS):
    app.add_command(command)


# -- the way in and out


def run(args: list[str]) -> int:
    """Run one command as typed; the exit code: 0 done, 1 failed, 2 wrong usage, 130 interrupted."""
    state = State()
    try:
        with app.make_context("fallbook", args, obj=state) as context:
            app.invoke(context)
        sys.stdout.flush()
    except click.exceptions.Exit as ended:
        return _stopped() if ended.exit_code == 130 else ended.exit_code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # whoever was reading has had enough
        return 1
    except KeyboardInterrupt:
        return _stopped()
    except Exception as error:
        if state.debug:
            raise
        return _failed(error)
    return 0


def _stopped() -> int:
    say("fallbook: interrupted; what was done so far is kept, run it again to go on", err=True)
    return 130


def _failed(error: Exception) -> int:
    """One line for whatever went wrong."""
    if isinstance(error, FallbookError):
        say(f"fallbook: {error}", err=True)
        return error.exit_code
    if isinstance(error, click.ClickException):
        hint = getattr(getattr(error, "ctx", None), "command_path", "fallbook")
        say(f"fallbook: {error.format_message()} (see: {hint} --help)", err=True)
        return error.exit_code
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
    gc.set_threshold(OBJECTS)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a sign is no reason to stop
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
