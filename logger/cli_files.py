"""The commands that need no library: hear recordings, read a text log, check a record."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from extract.errors import FallbookError
from logger.options import AsJson, ModelName, Spoken
from logger.printing import listening, print_blocks, print_json, say

app = typer.Typer()


@app.command()
def hear(
    sounds: Annotated[list[str], typer.Argument(metavar="SOUND...", help="Recordings; - reads standard input.")],
    as_json: AsJson = False,
    extract: Annotated[bool, typer.Option("--extract", help="Print the record the notes make, not the notes.")] = False,
    model: ModelName = None,
    language: Spoken = None,
) -> None:
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
    if extract:
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
    from logger.sniff import decoded, refuse_other

    raw = read_file(notes)
    refuse_other(raw, notes)
    read = parse_log(decoded(raw, notes))
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
    from logger import files

    found = files.check_file(record, storm, company)
    if as_json:
        print_json([finding.model_dump(mode="json", exclude_none=True) for finding in found])
    else:
        from logger import show as pages

        print_blocks(pages.findings(found))


def _print_record(notes: list[Any], as_json: bool) -> None:
    from extract.assemble import assemble

    record = assemble(notes)
    if as_json:
        print_json(record.as_json())
    else:
        from logger import show as pages

        print_blocks(pages.record(record))
