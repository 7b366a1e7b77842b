"""The local network: this machine's own address in it, found without a word to anybody, and how the page is reached."""

from __future__ import annotations

import ipaddress
import socket
from dataclasses import dataclass

from extract.errors import FallbookError
from logger.page.certificate import Certificate

ELSEWHERE = ("192.0.2.1", "10.42.0.2", "192.168.137.2", "192.168.2.2")
"""The first is nobody's (RFC 5737) and stands for whatever is far away; the others are in the networks that a laptop
makes when it is the hotspot itself, and then often has no way to far away."""


@dataclass(frozen=True)
class Outside:
    """How the page is reached from the local network."""

    host: str
    """`192.168.1.20:8440`"""
    certificate: Certificate | None
    """None over plain HTTP."""

    def link(self, token: str, job: str | None) -> str:
        """The address that lets one phone in."""
        return link("https" if self.certificate else "http", self.host, token, job)


def link(scheme: str, host: str, token: str, job: str | None) -> str:
    """The address that lets one browser in, and opens that job."""
    return f"{scheme}://{host}/join/{token}{f'?job={job}' if job else ''}"


def own_address() -> str:
    """This machine's address in the local network.

    To connect a UDP socket sends nothing and looks no name up: the system only settles from which address it would
    send, and that is read back. Raises FallbookError where there is no network, or one that anybody can reach.
    """
    found = next(filter(None, map(_from_here, ELSEWHERE)), None)
    if found is None:
        raise FallbookError("this machine is in no local network; join the phones' network and run it again")
    if ipaddress.ip_address(found).is_global:
        raise FallbookError(f"{found} can be reached from the whole internet; join a private network and run it again")
    return found


def _from_here(far: str) -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((far, 9))
        except OSError:
            return None
        found = str(asking.getsockname()[0])
    address = ipaddress.ip_address(found)
    return None if address.is_loopback or address.is_unspecified else found
