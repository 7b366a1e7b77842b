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

TOKEN_S = 15 * 60
"""How long a token waits to be used."""
SESSION_S = 14 * 60 * 60
"""How long a browser stays let in: a long day."""
MOST_SESSIONS = 50


@dataclass(frozen=True)
class Session:
    """A browser that was let in."""

    id: str
    """Names it on the page; no one can get in with it."""
    name: str
    """What its user called it: `Dora's phone`."""
    began: float
    ends: float


class Access:
    """Tokens and sessions. Only their hashes are kept; safe for use by several threads."""

    def __init__(self, clock: Callable[[], float] = time.time) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._tokens: dict[str, float] = {}
        self._sessions: dict[str, Session] = {}

    def token(self) -> str:
        """A new token, good once."""
        made = secrets.token_urlsafe(24)
        with self._lock:
            self._tokens[_hash(made)] = self._clock() + TOKEN_S
        return made

    def waits(self, token: str) -> bool:
        """Whether that token would let somebody in now."""
        with self._lock:
            return self._tokens.get(_hash(token), 0) > self._clock()

    def enter(self, token: str, name: str) -> str | None:
        """Use the token up: the secret of a new session, or None where the token was used, is too old or was never
        made."""
        with self._lock:
            self._forget_old()
            if self._tokens.pop(_hash(token), 0) <= self._clock() or len(self._sessions) >= MOST_SESSIONS:
                return None
            secret, now = secrets.token_urlsafe(32), self._clock()
            self._sessions[_hash(secret)] = Session(secrets.token_hex(4), name, now, now + SESSION_S)
            return secret

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
            keys = [key for key, each in self._sessions.items() if each.id == session_id]
            for key in keys:
                del self._sessions[key]
            return bool(keys)

    def withdraw_tokens(self) -> None:
        """No token made so far lets anybody in."""
        with self._lock:
            self._tokens.clear()

    def _forget_old(self) -> None:
        now = self._clock()
        self._tokens = {key: ends for key, ends in self._tokens.items() if ends > now}
        self._sessions = {key: each for key, each in self._sessions.items() if each.ends > now}


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
