"""Every command has its help and stands in the README."""

import io
import re
import shlex
import sys
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
        "accept",
        "remove",
        "show",
        "ready",
        "report",
        "export",
        "find",
        "hear",
        "extract",
        "check",
        "warranty",
        "verify",
        "backup",
        "restore",
        "pack",
        "unpack",
        "serve",
        "listen",
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


def shown() -> list[tuple[str, str]]:
    """Each command that the README shows with its output, and that output."""
    section = README.read_text(encoding="utf-8").partition("## Answering what it asks")[2].partition("\n## ")[0]
    parts = section.split("```")[1].split("\n$ ")[1:]
    return [(command, output.rstrip("\n")) for command, _, output in (part.partition("\n") for part in parts)]


def test_the_commands_that_the_readme_shows_print_what_it_says(capsys, monkeypatch, company):
    words = ["--client", "A. Client", "--address", "2 Tarn Lane", "--day", "2026-09-15", "--zone=-06:00"]
    assert cli.run(["new", "side-yard", *words, "--company", str(company)]) == 0
    assert len(shown()) >= 6
    for command, output in shown():
        capsys.readouterr()
        typed, _, plain = command.rpartition(" | ")
        lines = shlex.split(typed)[1].replace("\\n", "\n") if typed else ""
        monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
        cli.run(shlex.split(plain)[1:])
        printed = capsys.readouterr()
        assert (printed.out + printed.err).rstrip("\n") == output, command
