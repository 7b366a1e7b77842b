"""Who may use the page: one-time tokens that let a browser in, and the sessions that they open.

Nothing here is kept on disk: when the program ends, every session ends with it.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

TOKEN_S = 10 * 60
"""How long a token waits to be used."""
SESSION_S = 12 * 60 * 60
"""How long a browser stays let in: a long day."""
MOST_TOKENS = 20
"""That wait at the same time; the oldest goes."""
MOST_SESSIONS = 50
WRONG_MOST = 10
"""Links that let nobody in, from one address, before it is shut out."""
SHUT_OUT_S = 60
MOST_ADDRESSES = 1000
"""Of those that were wrong; the one that was wrong first is forgotten."""


@dataclass(frozen=True)
class Session:
    """A browser that was let in."""

    id: str
    """Names it on the page; no one can get in with it."""
    name: str
    """What its user called it: `Dora's phone`."""
    began: float
    ends: float


@dataclass
class Wrong:
    """The links from one address that let nobody in, since the first of them."""

    since: float
    count: int = 0


class Access:
    """Tokens and sessions. Only their hashes are kept; safe for use by several threads."""

    def __init__(self, clock: Callable[[], float] = time.time, tell: Callable[[str], None] = lambda line: None) -> None:
        """`tell` gets a line for each browser that is let in, put out or shut out; nothing secret stands in it."""
        self._clock, self._tell = clock, tell
        self._lock = threading.Lock()
        self._tokens: dict[str, float] = {}
        self._sessions: dict[str, Session] = {}
        self._wrong: dict[str, Wrong] = {}

    def token(self) -> str:
        """A new token, good once."""
        made = secrets.token_urlsafe(24)
        with self._lock:
            self._forget_old()
            while len(self._tokens) >= MOST_TOKENS:
                del self._tokens[next(iter(self._tokens))]
            self._tokens[_hash(made)] = self._clock() + TOKEN_S
        return made

    def waits(self, token: str) -> bool:
        """Whether that token would let somebody in now."""
        with self._lock:
            return self._tokens.get(_hash(token), 0) > self._clock()

    def waiting(self) -> list[float]:
        """When each token that waits ends, the first to end first."""
        with self._lock:
            self._forget_old()
            return sorted(self._tokens.values())

    def full(self) -> bool:
        """Whether as many browsers are let in as may be."""
        return len(self.sessions()) >= MOST_SESSIONS

    def enter(self, token: str, name: str, address: str = "") -> str | None:
        """Use the token up: the secret of a new session, or None where the token was used, is too old or was never
        made, and where there is no room."""
        with self._lock:
            self._forget_old()
            if len(self._sessions) >= MOST_SESSIONS or self._tokens.pop(_hash(token), 0) <= self._clock():
                return None
            secret, now = secrets.token_urlsafe(32), self._clock()
            self._sessions[_hash(secret)] = Session(secrets.token_hex(4), name, now, now + SESSION_S)
        self._tell(f"let in: {name}, from {address}")
        return secret

    def wrong(self, address: str) -> None:
        """Somebody at that address came with a link that lets nobody in."""
        with self._lock:
            found = self._wrong.pop(address, None)
            if found is None or self._clock() - found.since >= SHUT_OUT_S:
                found = Wrong(self._clock())
            while len(self._wrong) >= MOST_ADDRESSES:
                del self._wrong[next(iter(self._wrong))]
            self._wrong[address] = found
            found.count += 1
            if found.count < WRONG_MOST:
                return
            found.since = self._clock()
        if found.count == WRONG_MOST:
            self._tell(f"shut out for {SHUT_OUT_S} s after {WRONG_MOST} links that let nobody in: {address}")

    def shut_out(self, address: str) -> bool:
        """Whether that address is to wait before any link of its is looked at."""
        with self._lock:
            found = self._wrong.get(address)
            return found is not None and found.count >= WRONG_MOST and self._clock() - found.since < SHUT_OUT_S

    def session(self, secret: str | None) -> Session | None:
        """The session of that secret, while it lasts."""
        with self._lock:
            found = self._sessions.get(_hash(secret)) if secret else None
            return found if found and found.ends > self._clock() else None

    def sessions(self) -> list[Session]:
        """Those that last, the newest first."""
        with self._lock:
            self._forget_old()
            return sorted(self._sessions.values(), key=lambda each: each.began, reverse=True)

    def withdraw(self, session_id: str) -> bool:
        """End a session; whether there was one of that ID."""
        with self._lock:
            gone = {key: each for key, each in self._sessions.items() if each.id == session_id}
            for key in gone:
                del self._sessions[key]
        for each in gone.values():
            self._tell(f"put out: {each.name}")
        return bool(gone)

    def withdraw_tokens(self) -> None:
        """No token made so far lets anybody in."""
        with self._lock:
            self._tokens.clear()
        self._tell("links withdrawn")

    def _forget_old(self) -> None:
        now = self._clock()
        self._tokens = {key: ends for key, ends in self._tokens.items() if ends > now}
        self._sessions = {key: each for key, each in self._sessions.items() if each.ends > now}


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
