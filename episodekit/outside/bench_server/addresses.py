"""Where the server is reached: this machine's addresses, and whether a request was meant for them."""

from __future__ import annotations

import contextlib
import errno
import socket
import sys
from collections.abc import Iterable

LOOPBACK = "127.0.0.1"


class PortTaken(Exception):
    """The port cannot be had; the text says why and what to do."""


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens; port 0 takes any that is free. Raises PortTaken."""
    # The protocol is named, or asyncio would not know it for TCP and let each answer wait 40 ms for company.
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":  # there it would let two programs share the port
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
        sock.listen(128)
    except OSError as error:
        sock.close()
        if error.errno == errno.EADDRINUSE:
            raise PortTaken(f"Port {port} is in use. Name another one with --port.") from error
        why = (error.strerror or str(error)).lower()
        raise PortTaken(f"Port {port} cannot be opened: {why}. Name another one with --port.") from error
    return sock


def local_addresses() -> tuple[str, ...]:
    """The IPv4 addresses at which other devices may reach this machine, the likeliest first; none without a network."""
    found: list[str] = []
    for far in ("192.0.2.1", "10.255.255.255", "192.168.255.255"):  # no packet is sent: it only asks the way
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            sock.connect((far, 9))
            found.append(sock.getsockname()[0])
    with contextlib.suppress(OSError):
        for *_, where in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            found.append(str(where[0]))
    found += _of_interfaces()
    return tuple(dict.fromkeys(one for one in found if not one.startswith(("127.", "0."))))


def _of_interfaces() -> list[str]:
    """The address of each network card, where the system tells; Linux does."""
    found: list[str] = []
    if sys.platform == "linux":
        import fcntl

        asks_address = 0x8915  # SIOCGIFADDR, netdevice(7)
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            for _, name in socket.if_nameindex():
                with contextlib.suppress(OSError):
                    asked = name.encode()[:15].ljust(256, b"\0")
                    found.append(socket.inet_ntoa(fcntl.ioctl(sock.fileno(), asks_address, asked)[20:24]))
    return found


def hosts(addresses: Iterable[str], port: int) -> frozenset[str]:
    """What a request's Host may say: one of the addresses, or localhost, with the port.

    >>> sorted(hosts(["192.168.1.20"], 80))
    ['127.0.0.1', '127.0.0.1:80', '192.168.1.20', '192.168.1.20:80', 'localhost', 'localhost:80']
    """
    names = (LOOPBACK, "localhost", *addresses)
    with_port = {f"{name}:{port}" for name in names}
    return frozenset(with_port | set(names) if port == 80 else with_port)
