"""The company file: the firm, its warranty terms and its own limits, in TOML."""

from __future__ import annotations

import tomllib
from base64 import b64encode
from pathlib import Path

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


def company_file(path: str) -> tuple[Company, str]:
    """A company file (`-` is standard input) and its text.

    Raises UsageError where it is none, or overrides a limit that there is not.
    """
    from extract.check.policy import load_policy
    from logger.intake import read_file

    try:
        text = read_file(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: not a company file in TOML, which is UTF-8 text") from error
    firm = read_company(text, path)
    if firm.logo_png:
        raise UsageError(f"{path}: logo_png: leave it out; the picture's own file goes under logo")
    try:
        load_policy(firm.policy)
    except UsageError as error:
        raise UsageError(f"{path}: policy: {error}") from error
    return firm, text


def with_logo(firm: Company, text: str, path: str) -> tuple[Company, str]:
    """A company file as the library keeps it: the picture of its logo, sized for a report, stands in its first line.

    Raises UsageError where the logo is no picture for a report.
    """
    from logger.pictures import logo_png

    if firm.logo is None:
        return firm, text
    text = f'logo_png = "{b64encode(logo_png(Path(path).parent / firm.logo)).decode()}"\n{text}'
    return read_company(text, path), text


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
