"""Every command has its help and stands in the README."""

import re
from pathlib import Path

import pytest

from logger import cli

README = Path(__file__).parent.parent / "README.md"
COMMANDS = cli.app.commands


def test_the_commands_are_those_a_crew_needs():
    assert set(COMMANDS) == {
        "new",
        "take",
        "say",
        "ask",
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


def test_every_command_has_a_line_of_help_and_the_list_of_commands_has_the_whole_of_it(capsys):
    assert cli.run(["--help"]) == 0
    listed = " ".join(capsys.readouterr().out.partition("Commands:")[2].split())
    assert listed == " ".join(f"{name} {command.help}" for name, command in COMMANDS.items())
    assert all(command.help for command in COMMANDS.values())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_argument_and_option_is_explained(name):
    assert [param.name for param in COMMANDS[name].params if not getattr(param, "help", None)] in ([], ["help"])


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name):
    assert re.search(rf"\bfallbook {name}\b", README.read_text(encoding="utf-8"))
