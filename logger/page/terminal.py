"""What the terminal says when the page is served: what it means, and what the phone will show."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from io import StringIO

import segno

from logger.page.access import TOKEN_S
from logger.page.lan import Outside

MINUTES = TOKEN_S // 60
ALONE = f"For this laptop's browser alone: the address lets one in, once, within {MINUTES} minutes. Stop with Ctrl-C."
TWO = (
    "The first address is for this laptop's browser. The second is for a phone in the same network: scan the code, or "
    f"open it there. Each lets one in, once, within {MINUTES} minutes; more links: Devices, on the page. "
    "Stop with Ctrl-C, which ends every link and every session."
)
LAN = (
    "What --lan means: every machine in this network can reach the page's address. None gets in without a link, and "
    "what passes is encrypted."
)
WARNING = (
    "The phone will warn that the connection is not private: nobody vouches for this certificate, for it was made on "
    "this laptop. Hold the SHA-256 fingerprint that the phone shows against this one, and go on only where they are "
    "the same:"
)
LAN_HTTP = (
    "What --lan-http means: anyone in this network can read what passes, change it, and get in with what they read. "
    "Phones give such a page no live microphone: speak with the phone's own recorder, and send the recording from the "
    "page. Where it can be, use --lan."
)
SIGNS = "\u2580\u2584\u2588"
"""What the code is drawn with."""


def lines(outside: Outside | None) -> Iterator[str]:
    """In plain words, what is served to whom."""
    if outside is None:
        yield ALONE
    elif outside.certificate is None:
        yield from (TWO, LAN_HTTP)
    else:
        made = outside.certificate
        yield from (TWO, LAN, WARNING, *made.rows(16), f"(good until {made.ends:%Y-%m-%d})")


def code(address: str) -> list[str]:
    """The address as a code of half blocks; no line where standard error is no terminal, or one without those signs."""
    if not sys.stderr.isatty() or not _can_write(SIGNS, sys.stderr.encoding):
        return []
    out = StringIO()
    segno.make_qr(address, error="m").terminal(out, compact=True)
    return out.getvalue().splitlines()


def _can_write(text: str, encoding: str | None) -> bool:
    try:
        text.encode(encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True
