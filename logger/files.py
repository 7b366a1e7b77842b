"""What needs no library: recordings heard, a record checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from extract.errors import FallbookError, UsageError
from logger import intake

if TYPE_CHECKING:
    from extract.check.runoff import Storm
    from extract.record import Finding, Language, Note
    from logger.hearing import Hearing, Progress


def hear_files(
    paths: Iterable[str],
    *,
    listening: Callable[[str], Progress],
    model: str | None = None,
    language: Language | None = None,
    hearing: Hearing | None = None,
) -> Iterator[tuple[str, list[Note] | FallbookError]]:
    """Each sound's notes, or what is wrong with it; `-` is standard input."""
    if hearing is None:
        from logger import speech

        hearing = speech
    for path in paths:
        try:
            with intake.on_disk(path) as sound:
                yield path, hearing.hear(sound, model=model, language=language, progress=listening(path))
        except FallbookError as error:
            yield path, error


def check_file(path: str, storm_in_h: str | None = None, company: str | None = None) -> list[Finding]:
    """The findings on a record in a JSON file (`-` is standard input), under a storm of so many inches an hour.

    A company file lends its limits, and its storm where none is given. Raises FallbookError where the file holds no
    record, UsageError for a storm that cannot be or a company file that is off.
    """
    from pydantic import ValidationError

    from extract.check import check
    from logger.company import company_file
    from logger.wrong import first_wrong
    from reports.open_record import MarkedRecord

    firm = None if company is None else company_file(company)[0]
    storm = storm_of(storm_in_h) if storm_in_h is not None else firm.storm if firm else None
    try:
        shape = MarkedRecord.model_validate_json(intake.read_file(path))
    except ValidationError as error:
        _, _, wrong = first_wrong(error)
        raise FallbookError(f"{path} is no record: {wrong}; write one with: fallbook extract --json") from error
    return check(shape, firm.policy if firm else None, storm=storm)


def storm_of(intensity_in_h: str) -> Storm:
    """A storm typed as inches an hour. Raises UsageError for one that cannot be."""
    from extract.check.runoff import Storm

    try:
        return Storm(intensity_in_h=float(intensity_in_h))
    except ValueError as error:  # a ValidationError is one too
        raise UsageError(
            f"--storm cannot be {intensity_in_h}; it is the design rainfall in inches an hour, above 0 and up to 30"
        ) from error
