"""The company file: the firm, its warranty terms and its own limits, in TOML."""

from __future__ import annotations

import tomllib

from pydantic import ValidationError

from extract.errors import UsageError
from logger.wrong import first_wrong
from reports.job import Company


def read_company(text: str, name: str) -> Company:
    """A company file's text as a Company. Raises UsageError with the file and the field."""
    try:
        return Company.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise UsageError(f"{name}: not a company file in TOML: {error}") from error
    except ValidationError as error:
        raise UsageError(f"{name}: {_fault(error)}") from error


def _fault(error: ValidationError) -> str:
    field, kind, words = first_wrong(error)
    if kind != "missing":
        return words
    group, _, last = field.rpartition(".")
    if field == "warranty":
        return f"{words}; add a group  [warranty]"
    if field == "warranty.excludes":
        return (
            f"{words}; add groups  [[warranty.excludes]]  with what and why, or a line under [warranty]  excludes = []"
        )
    under = f" under [{group}]" if group else ""
    return f"{words}; add a line{under}  {last} = ..."
