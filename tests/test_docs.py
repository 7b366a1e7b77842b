"""Every command has its help and stands in the README."""

import re
from pathlib import Path

import pytest
from typer.main import get_command

from logger.cli import app

README = Path(__file__).parent.parent / "README.md"
COMMANDS = get_command(app).commands  # type: ignore[attr-defined]


def test_the_commands_are_those_a_crew_needs():
    assert set(COMMANDS) == {
        "new",
        "take",
        "say",
        "amend",
        "remove",
        "show",
        "ready",
        "report",
        "find",
        "hear",
        "extract",
        "check",
        "verify",
        "backup",
        "restore",
    }


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_line_of_help(name):
    help_line = COMMANDS[name].get_short_help_str(limit=200)
    assert help_line
    assert not help_line.endswith("...")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_argument_and_option_is_explained(name):
    assert [param.name for param in COMMANDS[name].params if not getattr(param, "help", None)] in ([], ["help"])


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name):
    assert re.search(rf"\bfallbook {name}\b", README.read_text(encoding="utf-8"))
