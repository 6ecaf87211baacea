"""The public check over HTTP, one connection kept open, against a bare route of the same application."""

import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import cycle, islice

from tests.bench.measure import Row, in_turns
from tests.bench.shelves import Shelf

A_ROUND = 200


def rows(small: Shelf, large: Shelf) -> list[Row]:
    with _served(small) as few, _served(large) as many:
        bare, checked, bare_of_many, checked_of_many = in_turns(
            25,
            lambda: _ask(few, ["/bare"]),
            lambda: _ask(few, [f"/c/{code}" for code in small.codes]),
            lambda: _ask(many, ["/bare"]),
            lambda: _ask(many, [f"/c/{code}" for code in large.codes]),
        )
    flat = Row("/c/CODE, the large against the small", "", "", f"{checked_of_many / checked:.2f}x", "0.90 to 1.10")
    return [
        Row(f"/c/CODE of {shelf.pieces:,} pieces", f"{A_ROUND / ours:,.0f} a second",
            f"bare route {A_ROUND / plain:,.0f} a second", f"{plain / ours:.2f}", "0.50 or better")
        for shelf, ours, plain in ((small, checked, bare), (large, checked_of_many, bare_of_many))
    ] + [flat]  # fmt: skip


@contextmanager
def _served(shelf: Shelf) -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = subprocess.Popen([sys.executable, "-m", "tests.bench.served", str(shelf.path), str(port)])
    try:
        with _connected(port) as connection:
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            yield connection
    finally:
        server.terminate()
        server.wait()


def _connected(port: int) -> socket.socket:
    for _ in range(300):
        try:
            return socket.create_connection(("127.0.0.1", port))
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the server did not start")


def _ask(connection: socket.socket, paths: list[str]) -> None:
    for path in islice(cycle(paths), A_ROUND):
        connection.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        said = connection.recv(65536)
        while b"\r\n\r\n" not in said:
            said += connection.recv(65536)
        head, body = said.split(b"\r\n\r\n", 1)
        assert b" 200 " in head[:20], head
        length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
        left = length - len(body)
        while left:
            left -= len(connection.recv(65536))
