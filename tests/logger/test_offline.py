"""Nothing leaves the laptop and nothing is written elsewhere: a part of the sample day, watched from outside, call by
call; and `serve` and `listen`, of which the first says nothing unasked, and the other nothing at all.

Native code gets past whatever Python's own sockets are told, so `strace` lists the calls that the process, its threads
and its children make to the kernel.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from ctypes.util import find_library
from importlib.util import find_spec
from pathlib import Path

import pytest

from logger.model import BASE, find_model
from logger.page.lan import ELSEWHERE

pytestmark = pytest.mark.outside

ROOT = Path(__file__).parent.parent.parent
DAY = ROOT / "sample_logs"
JOB = "quillbark-walk"
PART = ("tests and tasks.m4a", "DRAY0041.JPG", "OMBR0319.HEIC", "notes.txt")
"""Of the sample day: a file of each kind, for the calls are the same however much is heard; all of it with
`FALLBOOK_WHOLE=1`."""
SAID = (
    "Basin one is set, rim 100.20, invert out 98.50.",
    "Outlet one is a pop-up, four inch, its invert is 97.90.",
    "Run one is in, basin one to outlet one, forty feet of four-inch SDR 35.",
)
"""What the drawings need."""
FILES = (
    "open openat openat2 creat mkdir mkdirat mknod mknodat rename renameat renameat2 link linkat symlink symlinkat "
    "unlink unlinkat rmdir truncate"
).split()
WATCHED = ",".join(["%network", "?io_uring_setup", *(f"?{call}" for call in FILES)])
"""io_uring would get files and sockets past this list; `?` because not every processor has every call."""
PATH = re.compile(r'(?:(?:AT_FDCWD|\d+)<([^>]*)>, )?"((?:[^"\\]|\\.)*)"')
WRITES = re.compile(r"O_(?:WRONLY|RDWR|CREAT|TRUNC|TMPFILE)")
KEEPS_NOTHING = ("/dev/null", "/dev/shm/")
"""What goes into the first is gone; the other is memory, where a lock between processes has its name."""
DRIVER = """
import json, sys
from logger.cli import run
for words in json.loads(sys.argv[1]):
    if code := run(words):
        sys.exit(f"{words[0]}: exit code {code}")
exec(sys.argv[2])
"""
"""All commands in one process, so that what a library does later than its import is seen as well."""
LISTEN_ON = """
import time, spacy  # spaCy is loaded only for a line too long for one note
assert {"ctranslate2", "matplotlib", "onnxruntime"} <= sys.modules.keys()
time.sleep(15)
"""
"""onnxruntime 1.32 looked its host up 9 s after it was loaded."""

LISTEN = """
import os, signal, threading
for seconds in (4, 6):  # the second one waits for no hearing
    threading.Timer(seconds, os.kill, [os.getpid(), signal.SIGINT]).start()
assert run(["listen", "j"]) in (0, 130)
"""
MICROPHONE = """
pcm.!default { type plug slave.pcm { type file slave.pcm { type null } file /dev/null infile /dev/zero format raw } }
"""
"""What ALSA's default is: silence, with no machine behind it."""

SERVE = """
import os, threading
from pathlib import Path
from extract.errors import FallbookError
from logger.page.server import Server
folder = Path(os.environ["FALLBOOK_LIBRARY"])
try:
    made = Server(folder, 0, lan="https")
except FallbookError:  # a machine in no network
    made = Server(folder, 0)
threading.Timer(3, made.stop).start()
made.run()
"""
LISTENING = {"socket", "setsockopt", "getsockopt", "bind", "listen", "getsockname", "accept", "accept4"}
"""What it takes to listen, and nothing that sends."""
ASKED_OF_THE_SYSTEM = re.compile(r"sin_port=htons\(9\).*(?:" + "|".join(map(re.escape, ELSEWHERE)) + ")")
"""A UDP socket's connect, which sends nothing: by which own address would that far one be reached?"""

Watch = Callable[..., list[tuple[str, str]]]


@pytest.fixture
def watch(tmp_path) -> Watch:
    """Runs commands of fallbook, then a piece of Python, and returns the calls that were watched: name, arguments."""
    if shutil.which("strace") is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("Debian package strace is not installed")
    # Not the environment of the tests, which import logger and so have its settings already; nor CI, where
    # onnxruntime keeps quiet of its own accord.
    folders = {"HOME": "home", "TMPDIR": "tmp", "FALLBOOK_LIBRARY": "library", "XDG_CACHE_HOME": "cache"}
    environment = {name: str(tmp_path / folder) for name, folder in folders.items()} | {"PATH": os.environ["PATH"]}
    for folder in ("home", "tmp", "cache/fallbook", "papers"):
        (tmp_path / folder).mkdir(parents=True)

    def watched(commands: list[list[str]], after: str = "") -> list[tuple[str, str]]:
        strace = ["strace", "-f", "-y", "--seccomp-bpf", "-o", str(tmp_path / "trace"), "-e", f"trace={WATCHED}"]
        driver = [sys.executable, "-c", DRIVER, json.dumps(commands), after]
        with (DAY / "day/20260915T130540.ogg").open("rb") as piped:
            done = subprocess.run([*strace, *driver], cwd=ROOT, env=environment, stdin=piped, capture_output=True)
        assert done.returncode == 0, done.stderr.decode()
        return re.findall(r"^\d+ +(\w+)\((.*)", (tmp_path / "trace").read_text(), re.M)

    return watched


def spoken_to(calls: list[tuple[str, str]]) -> list[str]:
    """Every call that has to do with sockets, but for a pair of them inside the program."""
    pair = ("socketpair", "AF_UNIX")
    return [f"{name}({said}" for name, said in calls if name not in FILES and (name, said[:7]) != pair]


def written(calls: list[tuple[str, str]]) -> set[str]:
    """Every path that was opened for writing, made, renamed or removed, or was to be."""
    return {
        os.path.normpath(os.path.join(folder or ROOT, path))
        for name, said in calls
        if name in FILES and (not name.startswith("open") or WRITES.search(said))
        for folder, path in PATH.findall(said)
    }


def elsewhere(calls: list[tuple[str, str]], home: Path) -> list[str]:
    """What was written outside of the library, the cache and the report's folder."""
    ours = tuple(f"{home / folder}/" for folder in ("library", "cache/fallbook", "papers"))
    # Python keeps its own compiled form of a module beside it, if it may.
    return sorted(
        path
        for path in written(calls)
        if not f"{path}/".startswith((*ours, *KEEPS_NOTHING)) and "/__pycache__" not in path
    )


@pytest.mark.model
def test_a_day_asks_nothing_of_the_network_and_writes_in_three_folders(tmp_path, watch):
    for model in (find_model(), find_model(BASE)):
        (tmp_path / "cache/fallbook" / model.name).symlink_to(model)
    (tmp_path / "day").mkdir()
    for name in [each.name for each in (DAY / "day").iterdir()] if "FALLBOOK_WHOLE" in os.environ else PART:
        shutil.copy(DAY / "day" / name, tmp_path / "day")
    calls = watch(
        [
            ["new", JOB, "--client", "Ina Wexcombe", "--address", "27 Quillbark Row", "--day", "2026-09-15"]
            + ["--zone=-06:00", "--company", str(DAY / "company.toml")],
            ["take", JOB, str(tmp_path / "day")],
            *(["say", JOB, words] for words in SAID),
            ["show", JOB],
            ["ready", JOB],
            ["find", "roots"],
            ["report", JOB, "--for", "record", "-o", str(tmp_path / "papers/walk.docx")],
            ["export", JOB, "-o", str(tmp_path / "papers/walk")],
            ["hear", "-"],
        ],
        LISTEN_ON,
    )
    assert not spoken_to(calls), "\n".join(spoken_to(calls))
    assert not elsewhere(calls, tmp_path), "\n".join(elsewhere(calls, tmp_path))
    for seen in ("library/library.db", "papers/walk.docx", "papers/walk/profile.dxf", "cache/fallbook/matplotlib"):
        assert str(tmp_path / seen) in written(calls)


def test_serve_listens_and_says_nothing_unasked(tmp_path, watch):
    words = ["--client", "Ina Wexcombe", "--address", "27 Quillbark Row", "--company", str(DAY / "company.toml")]
    calls = watch([["new", JOB, *words]], SERVE)
    more = [
        each
        for each in spoken_to(calls)
        if each.partition("(")[0] not in LISTENING
        and not (each.startswith("connect(") and ASKED_OF_THE_SYSTEM.search(each))
    ]
    assert not more, "\n".join(more)
    assert [name for name, _ in calls if name == "listen"]
    assert {said.split("<")[0] for name, said in calls if name == "connect"} <= datagrams(calls)
    assert not elsewhere(calls, tmp_path), "\n".join(elsewhere(calls, tmp_path))


@pytest.mark.skipif(shutil.which("soffice") is None, reason="Debian package libreoffice-writer is not installed")
def test_libreoffice_speaks_to_itself_alone_while_it_makes_a_pdf(tmp_path, watch):
    new = ["new", "j", "--client", "C", "--address", "A", "--company", str(DAY / "company.toml")]
    report = ["report", "j", "--draft", "--pdf", "-o", str(tmp_path / "papers/j.docx")]
    calls = watch([new, ["say", "j", "Basin one is set."], report])
    assert str(tmp_path / "papers/j.docx") in written(calls)
    assert (tmp_path / "papers/j.pdf").exists()
    assert {said.split(",")[0] for name, said in calls if name == "socket"} == {"AF_UNIX"}
    # A socket by which it finds another of its kind, and its own folder, where it notes that it was there if it may.
    its_own = ("/tmp/OSL_PIPE_", str(Path(shutil.which("soffice")).resolve().parent.parent))
    assert [path for path in elsewhere(calls, tmp_path) if not path.startswith(its_own)] == []


def datagrams(calls: list[tuple[str, str]]) -> set[str]:
    """The numbers under which UDP sockets were opened."""
    return {said.partition(" = ")[2].partition("<")[0] for _, said in calls if said.startswith("AF_INET, SOCK_DGRAM")}


@pytest.mark.parametrize(
    "deed",
    [
        "import socket\ntry: socket.getaddrinfo('usage.invalid', 443)\nexcept OSError: pass",
        "import ctypes; ctypes.CDLL(None).getaddrinfo(b'usage.invalid', b'443', None, ctypes.byref(ctypes.c_void_p()))",
        "import socket; socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)",
        "import subprocess; subprocess.run([sys.executable, '-c', 'import socket; socket.socket()'])",
    ],
)
def test_a_word_to_the_network_is_seen(watch, deed):
    assert spoken_to(watch([], deed))


@pytest.mark.parametrize(
    ("deed", "path"),
    [
        ("import os; open(os.environ['HOME'] + '/id', 'w')", "home/id"),
        ("import os; os.makedirs(os.environ['XDG_CACHE_HOME'] + '/usage')", "cache/usage"),
        ("import os; os.rename(os.environ['HOME'], os.environ['FALLBOOK_LIBRARY'])", "home"),
        ("import os; os.symlink('papers', os.environ['FALLBOOK_LIBRARY'] + '/../way')", "way"),
        ("import os; os.mkdir('id', dir_fd=os.open(os.environ['HOME'], 0))", "home/id"),
        ("import tempfile; tempfile.TemporaryFile()", "tmp"),
    ],
)
def test_a_file_elsewhere_is_seen(tmp_path, watch, deed, path):
    (tmp_path / "library").mkdir()
    assert any(each.startswith(str(tmp_path / path)) for each in elsewhere(watch([], deed), tmp_path))


@pytest.mark.skipif(sys.platform != "linux", reason="looks into the library as it is built for Linux")
def test_the_onnxruntime_that_is_locked_has_no_usage_data_to_send():
    parts = [
        path for folder in find_spec("onnxruntime").submodule_search_locations for path in Path(folder).rglob("*.so*")
    ]
    assert parts
    assert [path.name for path in parts if b"OneCollector" in path.read_bytes()] == []


@pytest.mark.model
def test_listen_speaks_to_this_machine_s_sound_system_alone(tmp_path, watch):
    if find_library("portaudio") is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("Debian package libportaudio2 is not installed")
    for model in (find_model(), find_model(BASE)):
        (tmp_path / "cache/fallbook" / model.name).symlink_to(model)
    (tmp_path / "home/.local/share").mkdir(parents=True)
    (tmp_path / "home/.asoundrc").write_text(MICROPHONE)
    new = ["new", "j", "--client", "C", "--address", "A", "--company", str(DAY / "company.toml")]
    calls = watch([new], LISTEN)
    assert any(name.startswith("open") and "libportaudio" in said for name, said in calls)
    assert [each for each in spoken_to(calls) if "AF_UNIX" not in each] == []
    spool = str(tmp_path / "home/.local/share/fallbook-recorded")
    others = [path for path in elsewhere(calls, tmp_path) if not path.startswith("/dev/")]  # PortAudio looks for OSS
    assert [path for path in others if not path.startswith(spool)] == []
    assert any(path.endswith(".wav") for path in others)
    assert list(Path(spool).iterdir()) == []
    assert list((tmp_path / "library/originals").iterdir())
