"""The commands that need no library: hear recordings, read a text log, check a record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from extract.errors import FallbookError
from logger.options import as_json, model_name, spoken
from logger.printing import listening, print_blocks, print_json, say

if TYPE_CHECKING:
    from extract.record import Language


@click.command()
@click.argument("sounds", metavar="SOUND...", nargs=-1, required=True, help="Recordings; - reads standard input.")
@as_json
@click.option("--extract", "of_record", is_flag=True, help="Print the record the notes make, not the notes.")
@model_name
@spoken
def hear(sounds: tuple[str, ...], as_json: bool, of_record: bool, model: str | None, language: Language | None) -> None:
    """Hear recordings without keeping them: notes, or the record they make."""
    from logger import files

    heard = []
    failed = False
    with listening() as begin:
        for path, result in files.hear_files(sounds, listening=begin, model=model, language=language):
            if isinstance(result, FallbookError):
                failed = True
                say(f"fallbook: {result}", err=True)
                continue
            if not result:
                say(f"fallbook: {path}: no speech was heard in it", err=True)
            heard.append((path, result))
    if of_record:
        _print_record([note for _, notes in heard for note in notes], as_json)
    elif as_json:
        print_json(
            [
                {"file": path} | note.model_dump(mode="json", exclude_none=True)
                for path, notes in heard
                for note in notes
            ]
        )
    else:
        from logger import show as pages

        for path, notes in heard:
            print_blocks(pages.heard(path, notes))
    if failed:
        raise click.exceptions.Exit(1)


@click.command()
@click.argument("notes", metavar="NOTES.txt", help="A text log, one note a line; - reads standard input.")
@as_json
def extract(notes: str, as_json: bool) -> None:
    """Read a text log into a record."""
    from extract.notes import parse_log
    from logger.intake import read_file
    from logger.sniff import decoded, refuse_other

    raw = read_file(notes)
    refuse_other(raw, notes)
    read = parse_log(decoded(raw, notes))
    if not read:
        name = "standard input" if notes == "-" else notes
        raise FallbookError(f"{name}: no note in it; write one note a line")
    _print_record(read, as_json)


@click.command()
@click.argument("record", metavar="RECORD.json", help="A record as extract prints it; - reads standard input.")
@click.option("--storm", metavar="IN_PER_HOUR", help="Design rainfall in inches an hour, to hold the pipes against.")
@click.option("--company", metavar="FILE", help="A company file (TOML), for its own limits and its storm.")
@as_json
def check(record: str, storm: str | None, company: str | None, as_json: bool) -> None:
    """Recompute lengths, slopes, levels and flow of a record and list the findings."""
    from logger import files

    found = files.check_file(record, storm, company)
    if as_json:
        print_json([finding.model_dump(mode="json", exclude_none=True) for finding in found])
    elif found:
        from logger import show as pages

        print_blocks(pages.findings(found))
    else:
        say(f"{'standard input' if record == '-' else record}: the record holds nothing to check")


def _print_record(notes: list[Any], as_json: bool) -> None:
    from extract.assemble import assemble

    record = assemble(notes)
    if as_json:
        print_json(record.as_json())
    else:
        from logger import show as pages

        print_blocks(pages.record(record))


COMMANDS = (hear, extract, check)
