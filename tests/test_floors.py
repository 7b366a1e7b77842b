"""Three floors, one direction: logger uses reports uses extract."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FLOORS = ["extract", "reports", "logger"]
MODULES = sorted(path for floor in FLOORS for path in (ROOT / floor).rglob("*.py"))
PURE = {
    "sqlite3",
    "sqlite_utils",
    "pathlib",
    "os",
    "shutil",
    "tempfile",
    "socket",
    "time",
    "subprocess",
    "platformdirs",
}


def imported(source: str) -> Iterator[str]:
    """Every module that the source imports, wherever in it."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield "." * node.level + (node.module or "")


def steps_up(floor: str, source: str) -> list[str]:
    above = FLOORS[FLOORS.index(floor) + 1 :]
    return [name for name in imported(source) if name.split(".")[0] in above]


def test_the_floors_are_there():
    assert {path.relative_to(ROOT).parts[0] for path in MODULES} == set(FLOORS)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_module_steps_up(path):
    floor = path.relative_to(ROOT).parts[0]
    assert steps_up(floor, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("floor", "source"),
    [
        ("extract", "import reports.job"),
        ("extract", "def f():\n    from logger.store import Store"),
        ("reports", "from logger import jobs"),
    ],
)
def test_a_step_up_would_be_seen(floor, source):
    assert steps_up(floor, source)


def test_a_step_down_is_no_step_up():
    assert steps_up("logger", "from reports.job import Job\nfrom extract.record import Note") == []


@pytest.mark.parametrize(
    "path", [path for path in MODULES if path.is_relative_to(ROOT / "extract")], ids=lambda path: path.name
)
def test_extract_knows_no_files_no_database_and_no_clock(path):
    source = path.read_text(encoding="utf-8")
    assert not {name.split(".")[0] for name in imported(source)} & PURE
    clocks = {"now", "today", "utcnow", "open"}
    called = {
        getattr(node.func, "attr", getattr(node.func, "id", ""))
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
    }
    assert not called & clocks
