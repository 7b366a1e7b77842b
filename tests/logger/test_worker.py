"""A file that crashes, hangs or fills the decoder costs itself, and the next one is read as ever."""

import io
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from conftest import quarters
from PIL import Image

from extract.errors import FallbookError
from logger import decoding, worker
from logger.worker import Unusable, Worker

posix = pytest.mark.skipif(os.name != "posix", reason="needs POSIX processes")


@pytest.fixture
def own():
    made = Worker()
    yield made
    made.stop()


def pid(own: Worker) -> int:
    return own._running().pid


def test_a_photo_is_read_as_without_a_worker(own, make_photo):
    from logger.photos import read_photo
    from logger.pictures import PAPER_PX, upright_jpeg

    path = make_photo()
    assert own.ask("photo", path)[0] == read_photo(path).model_dump(mode="json")
    assert own.ask("picture", path)[1] == upright_jpeg(path)
    assert own.ask("plate", path)[1] == upright_jpeg(path, longest_px=PAPER_PX)


def test_sound_comes_in_blocks_as_without_a_worker(make_sound):
    from logger.sound import decode

    path = make_sound(seconds=25)
    blocks = list(decoding.samples(path))
    assert len(blocks) > 1
    assert [block.tobytes() for block in blocks] == [block.tobytes() for block in decode(path)]


def test_one_process_serves_one_file_after_another(own, make_photo, make_sound):
    first = pid(own)
    own.ask("photo", make_photo())
    own.ask("probe", make_sound())
    assert pid(own) == first


def test_what_is_wrong_with_a_file_is_said_by_its_own_name(own, tmp_path):
    path = tmp_path / ".unfinished-x"
    path.write_bytes(b"\xff\xd8\xff nothing of a picture")
    with pytest.raises(Unusable, match="^front.jpg: the picture is cut off or damaged"):
        own.ask("photo", path, "front.jpg")


@posix
def test_a_crash_costs_the_file_and_the_next_is_read(own, tmp_path, make_photo):
    fifo = tmp_path / "never.txt"
    os.mkfifo(fifo)
    first = pid(own)
    threading.Timer(0.5, os.kill, [first, signal.SIGSEGV]).start()
    with pytest.raises(Unusable, match="^never.txt: the decoder failed on it; copy it again"):
        own.ask("text", fifo, "never.txt")
    assert own.ask("photo", make_photo())[0]
    assert pid(own) != first


@posix
@pytest.mark.parametrize("sent", ["SIGKILL", "SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_from_outside_is_no_fault_of_the_file(sent):
    assert worker._ended(-getattr(signal, sent)).passing
    assert not worker._ended(-signal.SIGSEGV).passing


@posix
def test_an_end_that_was_not_the_files_doing_condemns_no_file(own, tmp_path):
    fifo = tmp_path / "never.txt"
    os.mkfifo(fifo)
    threading.Timer(0.5, os.kill, [pid(own), signal.SIGKILL]).start()
    with pytest.raises(
        FallbookError, match="^never.txt: the decoder was ended before it was done; try it again"
    ) as told:
        own.ask("text", fifo, "never.txt")
    assert not isinstance(told.value, Unusable)


def test_nothing_in_the_folder_that_somebody_stands_in_is_run(own, tmp_path, make_photo, monkeypatch):
    path = make_photo()
    (tmp_path / "selectors.py").write_text("raise SystemExit(3)")
    (tmp_path / "json.py").write_text("raise SystemExit(3)")
    monkeypatch.chdir(tmp_path)
    assert own.ask("photo", path)[0]


@posix
def test_a_hang_is_given_up(own, tmp_path, make_photo, monkeypatch):
    monkeypatch.setattr(worker, "QUIET_S", 1.0)
    fifo = tmp_path / "never.txt"
    os.mkfifo(fifo)
    start = time.monotonic()
    with pytest.raises(Unusable, match="^never.txt: decoding it came to nothing in 1 s; copy it again"):
        own.ask("text", fifo, "never.txt")
    assert time.monotonic() - start < 5
    monkeypatch.setattr(worker, "QUIET_S", 60.0)
    assert own.ask("photo", make_photo())[0]


@posix
def test_memory_is_held_to_its_limit():
    program = (
        "from logger import worker\n"
        "worker._hold_to_limits()\n"
        "try:\n    bytearray(worker.MEMORY + (1 << 20))\n"
        "except MemoryError:\n    print('held')\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "held\n"


@pytest.mark.skipif(sys.platform != "linux", reason="needs Linux")
def test_it_ends_with_whoever_started_it(tmp_path):
    fifo = tmp_path / "never.txt"
    os.mkfifo(fifo)
    program = (
        "import sys, threading\nfrom pathlib import Path\nfrom logger.worker import Worker\nown = Worker()\n"
        "print(own._running().pid, flush=True)\nown.ask('text', Path(sys.argv[1]))\n"
    )
    with subprocess.Popen([sys.executable, "-c", program, str(fifo)], stdout=subprocess.PIPE, text=True) as parent:
        child = int(parent.stdout.readline())
        time.sleep(0.5)
        parent.kill()
    deadline = time.monotonic() + 5
    while Path(f"/proc/{child}").exists() and "Z" not in state(child) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not Path(f"/proc/{child}").exists() or "Z" in state(child)


def state(child: int) -> str:
    try:
        return Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return "Z"


def test_what_prints_does_not_get_among_the_answers(own, make_photo):
    """The process answers on a copy of its standard output, and standard output itself leads elsewhere."""
    path = make_photo()
    program = (
        "import os\nfrom logger import worker\n"
        "def noisy(path, name, answer):\n    os.write(1, b'noise')\n    print('more')\n    answer(1)\n"
        "worker.CALLS['photo'] = noisy\nworker._serve()\n"
    )
    process = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    out, _ = process.communicate(f'{{"call": "photo", "path": "{path}", "name": "a"}}\n'.encode())
    assert b"noise" not in out
    assert b"more" not in out
    assert out.startswith(b'{"value": 1')


@pytest.mark.parametrize("busy_s", [0, 1])
def test_pictures_come_in_order_each_with_what_is_wrong_with_it(make_photo, tmp_path, busy_s):
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(make_photo("whole.jpg").read_bytes()[:200])
    sizes = [80, 160, 240, 320, 400]
    files = [(make_photo(f"{size}.jpg", image=quarters((size, 60))), f"{size}.jpg") for size in sizes]
    files.insert(2, (bad, "bad.jpg"))
    called = []
    found = decoding.plates(files, lambda: called.append(time.sleep(busy_s)))
    assert called == [None]
    assert str(found.pop(2)).startswith("bad.jpg: ")
    assert [Image.open(io.BytesIO(each)).width for each in found] == sizes


@posix
def test_the_process_outlives_the_thread_that_started_it(own, make_photo):
    """Linux ends a process with the thread that started it, where it is asked to end with its parent."""
    path, pids = make_photo(), []

    def first():
        own.ask("photo", path)
        pids.append(pid(own))

    thread = threading.Thread(target=first)
    thread.start()
    thread.join()
    time.sleep(0.2)
    assert own._process.poll() is None
    own.ask("photo", path)
    assert pids == [pid(own)]


def test_several_threads_may_ask_at_once(own, make_photo):
    paths, answers = [make_photo(f"{each}.jpg", heading=each + 0.5) for each in range(8)], {}

    def ask(each):
        answers[each] = own.ask("photo", paths[each])[0]["heading_deg"]

    threads = [threading.Thread(target=ask, args=[each]) for each in range(8)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert answers == {each: each + 0.5 for each in range(8)}
