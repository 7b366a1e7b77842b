"""What is served to whom: this laptop alone unless --lan; which certificate, which names; what a client may cost."""

import http.client
import socket
import ssl
import sys
import threading
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from pages import Client

from extract.errors import FallbookError
from logger import cli
from logger.page import body, certificate, lan, limits, server, terminal
from logger.page.guard import HEADERS

OUTER = "127.0.0.2"
"""Stands for this machine's address in the local network: another of its own, which only Linux has unasked."""
two_addresses = pytest.mark.skipif(sys.platform != "linux", reason="only Linux answers at 127.0.0.2 unasked")


@contextmanager
def serving(store, **options):
    made = server.Server(store.folder, 0, **options)
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    try:
        yield made
    finally:
        made.stop()
        thread.join(10)
        assert not thread.is_alive()


@pytest.fixture
def alone(store):
    with serving(store) as made:
        yield made


@pytest.fixture
def in_lan(store, monkeypatch):
    monkeypatch.setattr(server, "own_address", lambda: OUTER)
    with serving(store, job="j", lan="https") as made:
        yield made


def port_of(host):
    return int(host.rpartition(":")[2])


def trusting(made):
    """A client that trusts that certificate and nothing else, as a person does who compared the fingerprint."""
    return ssl.create_default_context(cafile=str(made.outside.certificate.path))


def get(host, path, *, tls=None, headers=None):
    address, port = host.split(":")
    connection = (
        http.client.HTTPSConnection(address, int(port), context=tls, timeout=10)
        if tls
        else http.client.HTTPConnection(address, int(port), timeout=10)
    )
    connection.request("GET", path, headers=headers or {})
    answer = connection.getresponse()
    return answer, answer.read().decode()


def raw(host, sent, wait=10.0):
    """What comes back for these very bytes, until the server closes."""
    address, port = host.split(":")
    with socket.create_connection((address, int(port)), timeout=wait) as client:
        client.sendall(sent)
        client.shutdown(socket.SHUT_WR)
        return rest_of(client)


def rest_of(client):
    """All that comes until the server closes."""
    parts = []
    try:
        while part := client.recv(65536):
            parts.append(part)
    except ConnectionResetError:
        pass
    return b"".join(parts)


def until(client, words):
    """What comes up to those words."""
    answer = b""
    while words not in answer:
        part = client.recv(65536)
        assert part, answer
        answer += part
    return answer


# -- addresses


def test_without_lan_only_this_laptop_is_served(alone):
    assert alone.host.startswith("127.0.0.1:")
    assert alone.outside is None
    if sys.platform == "linux":
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection((OUTER, port_of(alone.host)), timeout=5)


def test_an_answer_does_not_wait_for_the_client_to_confirm_its_head(alone):
    """A kernel that gathers small parts would hold the body back until the head is confirmed, 40 ms on Linux."""
    client = http.client.HTTPConnection(alone.host)
    took = []
    for _ in range(6):
        begun = time.perf_counter()
        client.request("GET", "/static/page.css")
        assert client.getresponse().read()
        took.append(time.perf_counter() - begun)
    assert min(took[1:]) < 0.03
    client.close()


def test_the_address_lets_in_and_opens_the_job(alone):
    path = alone.address("j").removeprefix(f"http://{alone.host}")
    answer, text = get(alone.host, path)
    assert answer.status == 200
    assert 'value="j"' in text


@two_addresses
def test_with_lan_phones_come_over_https_and_the_laptop_over_loopback_at_the_same_time(in_lan):
    token = in_lan.access.token()
    outer = in_lan.outside.link(token, "j").removeprefix(f"https://{in_lan.outside.host}")
    assert get(in_lan.outside.host, outer, tls=trusting(in_lan))[0].status == 200
    inner = in_lan.address().removeprefix(f"http://{in_lan.host}")
    assert get(in_lan.host, inner)[0].status == 200


@two_addresses
def test_what_speaks_plain_http_to_the_https_port_gets_nothing(in_lan):
    with socket.create_connection(tuple_of(in_lan.outside.host), timeout=10) as client:
        client.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        assert b"HTTP" not in rest_of(client)


def tuple_of(host):
    address, port = host.split(":")
    return address, int(port)


@two_addresses
def test_lan_http_is_plain_and_has_no_certificate(store, monkeypatch):
    monkeypatch.setattr(server, "own_address", lambda: OUTER)
    with serving(store, lan="http") as made:
        link = made.outside.link(made.access.token(), None)
        assert link.startswith(f"http://{OUTER}:")
        assert get(made.outside.host, link.removeprefix(f"http://{made.outside.host}"))[0].status == 200
    assert not (store.folder / certificate.FILE).exists()


@two_addresses
@pytest.mark.parametrize("name", ["evil.example", OUTER, "localhost", "127.0.0.1:1", ""])
def test_no_other_name_is_answered_inside_or_outside(in_lan, name):
    for host, tls in ((in_lan.host, None), (in_lan.outside.host, trusting(in_lan))):
        assert get(host, "/", tls=tls, headers={"Host": name})[0].status == 421


def test_a_port_that_is_taken_is_one_line(store):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(FallbookError, match=rf"^port {port} is taken by another program; choose another with --p"):
            server.Server(store.folder, port)


@two_addresses
def test_a_port_that_is_taken_in_the_network_is_one_line_too(store, monkeypatch):
    monkeypatch.setattr(server, "own_address", lambda: OUTER)
    with socket.create_server((OUTER, 0)) as other, pytest.raises(FallbookError, match="taken by another program"):
        server.Server(store.folder, other.getsockname()[1], lan="https")


def test_two_programs_cannot_both_take_a_port(store):
    first = server.Server(store.folder, 0)
    with pytest.raises(FallbookError, match="taken"):
        server.Server(store.folder, port_of(first.host))
    first._inner.close()


def test_the_usual_port_is_taken_where_it_is_free_and_another_where_not(store, monkeypatch):
    with socket.create_server(("127.0.0.1", 0)) as other:
        usual = other.getsockname()[1]
        monkeypatch.setattr(server, "USUAL_PORT", usual)
        second = server.Server(store.folder)
        assert port_of(second.host) not in (0, usual)
        second._inner.close()
    first = server.Server(store.folder)
    assert port_of(first.host) == usual
    first._inner.close()


# -- finding the address


class Route:
    """A UDP socket on a machine that has these ways out: a far address, and the own one that leads there."""

    ways = {}

    def __init__(self, *kind):
        assert kind == (socket.AF_INET, socket.SOCK_DGRAM)
        self.own = "0.0.0.0"

    def __enter__(self):
        return self

    def __exit__(self, *error):
        pass

    def connect(self, far):
        if far[0] not in self.ways:
            raise OSError("network is unreachable")
        self.own = self.ways[far[0]]

    def getsockname(self):
        return self.own, 4711


@pytest.mark.parametrize(
    ("ways", "own"),
    [
        ({"192.0.2.1": "192.168.1.20", "10.42.0.2": "192.168.1.20"}, "192.168.1.20"),
        ({"10.42.0.2": "10.42.0.1"}, "10.42.0.1"),
        ({"192.0.2.1": "127.0.0.1", "192.168.137.2": "192.168.137.1"}, "192.168.137.1"),
    ],
)
def test_the_own_address_is_that_of_the_way_out_or_of_a_hotspot_and_nothing_is_sent(monkeypatch, ways, own):
    monkeypatch.setattr(Route, "ways", ways)  # which has no way to send
    monkeypatch.setattr(lan.socket, "socket", Route)
    assert lan.own_address() == own


@pytest.mark.parametrize(
    ("ways", "said"),
    [({}, "this machine is in no local network"), ({"192.0.2.1": "8.8.4.4"}, "8.8.4.4 can be reached from the whole")],
)
def test_no_network_and_one_that_all_the_world_reaches_are_one_line(store, monkeypatch, ways, said):
    monkeypatch.setattr(Route, "ways", ways)
    monkeypatch.setattr(lan.socket, "socket", Route)
    with pytest.raises(FallbookError, match=said):
        server.Server(store.folder, 0, lan="https")


# -- the certificate


@two_addresses
def test_the_certificate_is_of_the_address_alone_and_its_fingerprint_the_one_that_is_shown(in_lan):
    host = in_lan.outside.host
    with trusting(in_lan).wrap_socket(socket.create_connection(tuple_of(host)), server_hostname=OUTER) as client:
        shown = x509.load_der_x509_certificate(client.getpeercert(binary_form=True))
        assert client.version() in ("TLSv1.2", "TLSv1.3")
    assert shown.fingerprint(hashes.SHA256()).hex(":").upper() == in_lan.outside.certificate.fingerprint
    names = shown.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert [str(each.value) for each in names] == [OUTER]
    assert shown.not_valid_after_utc - datetime.now(UTC) <= timedelta(days=14)
    assert not shown.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


@two_addresses
def test_old_tls_is_refused(in_lan):
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    with pytest.warns(DeprecationWarning, match="TLSv1_1"):
        old.maximum_version = ssl.TLSVersion.TLSv1_1
    with socket.create_connection(tuple_of(in_lan.outside.host)) as plain, pytest.raises(ssl.SSLError):
        old.wrap_socket(plain)


def test_a_certificate_is_kept_for_its_owner_alone_and_used_again(tmp_path):
    first = certificate.certificate(tmp_path, "10.0.0.7")
    assert first.path.stat().st_mode & 0o777 == 0o600 or sys.platform == "win32"
    assert certificate.certificate(tmp_path, "10.0.0.7") == first
    assert [each.name for each in tmp_path.iterdir()] == [certificate.FILE]


def test_a_certificate_of_another_address_is_made_anew(tmp_path):
    first = certificate.certificate(tmp_path, "10.0.0.7")
    assert certificate.certificate(tmp_path, "10.0.0.8").fingerprint != first.fingerprint


def test_a_certificate_that_is_about_to_end_is_made_anew(tmp_path, monkeypatch):
    monkeypatch.setattr(certificate, "LASTS", timedelta(hours=23))
    first = certificate.certificate(tmp_path, "10.0.0.7")
    monkeypatch.undo()
    assert certificate.certificate(tmp_path, "10.0.0.7").ends > first.ends


@pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no such rights")
def test_a_key_that_others_could_read_is_not_used_again(tmp_path):
    first = certificate.certificate(tmp_path, "10.0.0.7")
    first.path.chmod(0o640)
    second = certificate.certificate(tmp_path, "10.0.0.7")
    assert second.fingerprint != first.fingerprint
    assert second.path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("damage", [b"", b"nothing", "half", "another key"])
def test_a_damaged_certificate_is_made_anew(tmp_path, damage):
    first = certificate.certificate(tmp_path, "10.0.0.7")
    whole = first.path.read_bytes()
    if damage == "half":
        damage = whole[: len(whole) // 2]
    if damage == "another key":
        (tmp_path / "other").mkdir()
        other = certificate.certificate(tmp_path / "other", "10.0.0.7").path.read_bytes()
        mark = b"-----BEGIN CERTIFICATE"
        damage = other.partition(mark)[0] + mark + whole.partition(mark)[2]
    first.path.write_bytes(damage)
    second = certificate.certificate(tmp_path, "10.0.0.7")
    assert second.fingerprint != first.fingerprint
    certificate.context(second)


def test_a_backup_leaves_the_key_out(store, tmp_path):
    certificate.certificate(store.folder, "10.0.0.7")
    assert cli.run(["backup", str(tmp_path / "disk")]) == 0
    assert not (tmp_path / "disk" / certificate.FILE).exists()


# -- what the terminal says


@pytest.fixture
def typed(store, monkeypatch, capsys):
    """Runs `serve` as typed, up to the point where it would serve: exit code, standard output, standard error."""
    monkeypatch.setattr(server, "own_address", lambda: OUTER)
    monkeypatch.setattr(
        server.Server, "run", lambda self: [each.close() for each in (self._inner, self._outer) if each]
    )

    def run(*words):
        code = cli.run(["serve", *words])
        said = capsys.readouterr()
        return code, said.out.splitlines(), said.err

    return run


def test_the_first_line_is_the_address_with_its_token(typed):
    code, out, err = typed("j", "--port", "0")
    assert code == 0
    assert len(out) == 1
    assert out[0].startswith("http://127.0.0.1:")
    assert out[0].endswith("?job=j")
    assert "this laptop's browser alone" in err


@two_addresses
def test_lan_says_what_it_means_and_what_the_phone_will_show(typed, store):
    code, out, err = typed("j", "--port", "0", "--lan")
    assert code == 0
    assert [line.partition("/join/")[0].rpartition(":")[0] for line in out] == ["http://127.0.0.1", f"https://{OUTER}"]
    print_ = certificate.certificate(store.folder, OUTER)
    assert "\n".join(print_.rows(16)) in err
    for words in ("every machine in this network", "encrypted", "not private", f"{print_.ends:%Y-%m-%d}"):
        assert words in err
    assert "--lan-http" not in err


@two_addresses
def test_lan_http_says_that_anyone_reads_along(typed):
    code, out, err = typed("--port", "0", "--lan-http")
    assert code == 0
    assert out[1].startswith(f"http://{OUTER}:")
    for words in ("anyone in this network can read", "no live microphone"):
        assert words in err
    assert "fingerprint" not in err


def test_two_ways_at_once_are_refused(typed):
    assert typed("--lan", "--lan-http") == (
        2,
        [],
        "fallbook: --lan and --lan-http are two ways to do the same; give one of them\n",
    )


def test_a_job_that_is_not_there_is_one_line(typed):
    code, out, err = typed("gone")
    assert (code, out) == (1, [])
    assert err.startswith("fallbook: no job 'gone'")


class Terminal:
    def __init__(self, encoding, is_one=True):
        self.encoding, self._is_one = encoding, is_one

    def isatty(self):
        return self._is_one


@pytest.mark.parametrize(
    ("screen", "can"),
    [
        (Terminal("utf-8"), True),
        (Terminal("cp437"), True),
        (Terminal("ascii"), False),
        (Terminal("utf-8", False), False),
    ],
)
def test_the_code_is_drawn_where_the_terminal_can(monkeypatch, screen, can):
    monkeypatch.setattr(sys, "stderr", screen)
    drawn = terminal.code("https://192.168.1.20:8440/join/" + "t" * 32)
    assert bool(drawn) == can
    assert set("".join(drawn)) <= set(terminal.SIGNS + " ")
    assert len({len(line) for line in drawn}) <= 1


# -- what a client may cost


def carries_the_headers(answer):
    head = answer.partition(b"\r\n\r\n")[0].decode().lower()
    return all(f"\r\n{name.lower()}: {value.lower()}" in head for name, value in HEADERS.items())


@pytest.mark.parametrize(
    "sent",
    [
        b"\x16\x03\x01\x00\xa5",
        b"GET\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\nBad Header: y\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * limits.HEAD_BYTES * 2,
    ],
)
def test_what_is_no_request_gets_one_line_and_the_headers(alone, capfd, sent):
    answer = raw(alone.host, sent)
    assert answer.startswith(b"HTTP/1.1 400 ")
    assert answer.endswith(b"fallbook: that is no request that this page understands\n")
    assert carries_the_headers(answer)
    assert b"server:" not in answer.lower()
    assert capfd.readouterr().err == ""


def test_a_body_that_goes_wrong_half_way_harms_nobody(alone, capfd):
    head = f"POST /join/x HTTP/1.1\r\nHost: {alone.host}\r\nOrigin: http://{alone.host}\r\n"
    raw(alone.host, f"{head}Transfer-Encoding: chunked\r\n\r\n5\r\nname=\r\nzz\r\n".encode())
    raw(alone.host, f"{head}Content-Length: 100\r\n\r\nname=".encode())
    assert get(alone.host, "/")[0].status == 401
    assert "Traceback" not in capfd.readouterr().err


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHo"])
def test_who_is_slow_to_say_what_it_wants_is_cut_off(alone, monkeypatch, sent):
    monkeypatch.setattr(limits, "HEAD_S", 0.2)
    with socket.create_connection(tuple_of(alone.host), timeout=10) as client:
        client.sendall(sent)
        assert rest_of(client) == b""


def test_who_is_slow_with_the_second_request_is_cut_off_too(alone, monkeypatch):
    monkeypatch.setattr(limits, "HEAD_S", 0.2)
    with socket.create_connection(tuple_of(alone.host), timeout=10) as client:
        client.sendall(f"GET / HTTP/1.1\r\nHost: {alone.host}\r\n\r\n".encode())
        assert until(client, b"shows\n").startswith(b"HTTP/1.1 401")
        client.sendall(b"GET / HT")
        assert rest_of(client) == b""


def test_a_request_in_time_is_not_cut_off(alone, monkeypatch):
    monkeypatch.setattr(limits, "HEAD_S", 0.2)
    with socket.create_connection(tuple_of(alone.host), timeout=10) as client:
        for _ in range(2):
            client.sendall(f"GET / HTTP/1.1\r\nHost: {alone.host}\r\n\r\n".encode())
            assert until(client, b"shows\n").startswith(b"HTTP/1.1 401")
            time.sleep(0.4)


def test_one_address_has_so_many_connections_and_others_have_theirs(alone, monkeypatch):
    monkeypatch.setattr(limits, "OF_ONE_ADDRESS", 3)
    many = [socket.create_connection(tuple_of(alone.host), timeout=10) for _ in range(3)]
    one_more = socket.create_connection(tuple_of(alone.host), timeout=10)
    assert rest_of(one_more) == b""
    for each in (*many, one_more):
        each.close()
    time.sleep(0.2)
    assert get(alone.host, "/")[0].status == 401


@pytest.fixture
def client(store):
    return Client(store.folder)


def test_a_body_without_end_is_refused(client, monkeypatch):
    monkeypatch.setattr(body, "MOST_BYTES", 10)
    answer = client.post("/language", content=iter([b"language=", b"es"]))
    assert answer.status_code == 413
    assert "send it in parts" in answer.text


def test_a_body_that_stalls_is_given_up(alone, monkeypatch):
    monkeypatch.setattr(body, "STALL_S", 0.2)
    head = f"POST /join/x HTTP/1.1\r\nHost: {alone.host}\r\nOrigin: http://{alone.host}\r\nContent-Length: 9\r\n\r\n"
    with socket.create_connection(tuple_of(alone.host), timeout=10) as slow:
        slow.sendall(head.encode() + b"name")
        answer = until(slow, b"</html>")
    assert answer.startswith(b"HTTP/1.1 408 ")
    assert b"nothing came for a while" in answer
    assert carries_the_headers(answer)


def test_a_body_that_comes_drop_by_drop_is_given_up(alone, monkeypatch):
    monkeypatch.setattr(body, "STALL_S", 0.3)
    head = f"POST /join/x HTTP/1.1\r\nHost: {alone.host}\r\nOrigin: http://{alone.host}\r\nContent-Length: 90\r\n\r\n"
    with socket.create_connection(tuple_of(alone.host), timeout=10) as slow:
        slow.sendall(head.encode())
        for _ in range(8):
            time.sleep(0.1)
            slow.sendall(b"a")
        answer = until(slow, b"</html>")
    assert answer.startswith(b"HTTP/1.1 408 ")
    assert b"too slowly" in answer


def test_a_fault_of_the_program_is_one_line_on_the_page_and_one_in_the_terminal(client, monkeypatch, capsys):
    def broken(*given):
        raise RuntimeError("secret/path\nand more")

    monkeypatch.setattr("logger.store.Store.jobs", broken)
    answer = client.get("/?q=")
    assert answer.status_code == 500
    assert "The program failed at this" in answer.text
    assert "secret" not in answer.text
    assert all(answer.headers[name] == value for name, value in HEADERS.items())
    assert capsys.readouterr().err == "fallbook: the page failed: RuntimeError: secret/path and more\n"
