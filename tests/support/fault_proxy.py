"""A proxy on 127.0.0.1 that stands between a client and a real TAP server and spoils what passes, byte by byte.

It knows no more of HTTP than where a message's head ends. One connection carries one question; what the server
itself would do wrong (an overflow, an error inside a good answer) is brought about by changing the question on its
way, so that the server's own words come back.
"""

from __future__ import annotations

import re
import socket
import threading
import time
from dataclasses import dataclass, field
from urllib.parse import urlsplit

BUSY = b"HTTP/1.1 503 Service Unavailable\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"


@dataclass
class Fault:
    """What to do to questions that contain `only`, `times` times; the first that applies, in this order.

    `say`: answer with these bytes instead of asking the server. `swap`: change the question, (old, new) of equal
    length. `plain`: ask as HTTP/1.0, so that only the connection's end ends the answer. `delay_s`: wait before
    the first byte. `head`: send so many bytes of the head, then close. `body`: send so many bytes of the body, then
    close; a negative number leaves out so many at the end. `stall`: like `body`, but say nothing more instead of
    closing. `rate`: bytes a second.
    """

    say: bytes | None = None
    swap: tuple[bytes, bytes] | None = None
    plain: bool = False
    delay_s: float = 0.0
    head: int | None = None
    body: int | None = None
    stall: int | None = None
    rate: float | None = None
    reset: bool = False
    only: bytes = b""
    times: int = 1_000_000


@dataclass
class FaultProxy:
    """The proxy; use it in a `with` statement. `url` is the address to give to a client, `questions` what it asked."""

    server_url: str
    fault: Fault | None = None
    questions: list[bytes] = field(default_factory=list)

    def __enter__(self) -> FaultProxy:
        parts = urlsplit(self.server_url)
        self._server = (parts.hostname or "127.0.0.1", parts.port or 80)
        self._over = threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=16)
        self.port = self._listener.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}{parts.path}"
        threading.Thread(target=self._accept, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._listener.close()

    def refuse(self) -> None:
        """From now on refuse every connection."""
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()

    def _accept(self) -> None:
        while not self._over.is_set():
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        with client:
            try:
                self._one(client)
            except OSError:
                return

    def _one(self, client: socket.socket) -> None:
        question = _message(client)
        self.questions.append(question)
        fault = self.fault if self.fault and self.fault.only in question and self.fault.times > 0 else None
        if fault:
            fault.times -= 1
        if fault and fault.say is not None:
            client.sendall(fault.say)
            return
        with socket.create_connection(self._server) as server:
            server.sendall(self._passed_on(question, fault))
            self._back(server, client, fault)

    def _passed_on(self, question: bytes, fault: Fault | None) -> bytes:
        head, _, body = question.partition(b"\r\n\r\n")
        head = re.sub(rb"(?im)^(connection|accept-encoding):.*\r\n", b"", head + b"\r\n") + b"Connection: close"
        head = re.sub(rb"(?im)^host:.*$", b"Host: %s:%d\r" % (self._server[0].encode(), self._server[1]), head)
        if fault and fault.plain:
            head = head.replace(b"HTTP/1.1", b"HTTP/1.0", 1)
        if fault and fault.swap:
            body = re.sub(fault.swap[0], lambda found: fault.swap[1].ljust(len(found[0])), body)
        return head + b"\r\n\r\n" + body

    def _back(self, server: socket.socket, client: socket.socket, fault: Fault | None) -> None:
        head, body = _head(server)
        # The server names itself in addresses; the proxy's has as many digits, so that nothing changes its length.
        ours = (b":%d/" % self._server[1], b":%d/" % self.port)
        if fault and fault.delay_s and self._over.wait(fault.delay_s):
            return
        head = head.replace(*ours)
        client.sendall(head[: fault.head] if fault and fault.head is not None else head)
        if fault and fault.head is not None:
            return
        limit = None if fault is None else fault.body if fault.body is not None else fault.stall
        if limit is not None and limit < 0:
            body = b"".join([body, *_rest(server)])[:limit]
            limit = len(body)
        self._stream(server, client, body.replace(*ours), limit, fault)

    def _stream(
        self, server: socket.socket, client: socket.socket, part: bytes, limit: int | None, fault: Fault | None
    ) -> None:
        sent, begin = 0, time.monotonic()
        while part:
            if fault and fault.rate:
                for at in range(0, len(part), 512):
                    if self._over.wait(max(0.0, (sent + at) / fault.rate - (time.monotonic() - begin))):
                        return
                    client.sendall(part[at : at + 512])
                sent, part = sent + len(part), server.recv(1024)
                continue
            part = part if limit is None else part[: limit - sent]
            client.sendall(part)
            sent += len(part)
            if limit is not None and sent >= limit:
                break
            part = server.recv(65536)
        if fault and fault.stall is not None:
            self._over.wait()
        if fault and fault.reset:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")


def _head(connection: socket.socket) -> tuple[bytes, bytes]:
    """Read up to the end of a message's head; return it and what came of the body with it."""
    data = b""
    while b"\r\n\r\n" not in data:
        part = connection.recv(65536)
        if not part:
            return data, b""
        data += part
    end = data.index(b"\r\n\r\n") + 4
    return data[:end], data[end:]


def _rest(connection: socket.socket) -> list[bytes]:
    parts = []
    while part := connection.recv(65536):
        parts.append(part)
    return parts


def _message(connection: socket.socket) -> bytes:
    """Read one whole question."""
    head, body = _head(connection)
    length = re.search(rb"(?im)^content-length:\s*(\d+)", head)
    while length and len(body) < int(length[1]):
        part = connection.recv(65536)
        if not part:
            break
        body += part
    return head + body
