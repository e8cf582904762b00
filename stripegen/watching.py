"""A page kept up while its job is edited: served to this machine alone, drawn anew when a file has changed."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

HOST = "127.0.0.1"
PAUSE_S = 0.3
Stamps = dict[Path, tuple[int, int] | None]


@dataclass
class LivePage:
    """The page as it stands, what is wrong with the job now, if anything, and a number that grows with each page."""

    make: Callable[[int], str]  # the page with its number in it
    fault: str | None = None
    version: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def show(self, make: Callable[[int], str]) -> None:
        """Put another page in its place."""
        with self.lock:
            self.make, self.fault, self.version = make, None, self.version + 1

    def tell(self, fault: str) -> None:
        """Keep the page, and say what is wrong."""
        with self.lock:
            self.fault = fault

    def page(self) -> bytes:
        with self.lock:
            return self.make(self.version).encode()

    def state(self) -> bytes:
        with self.lock:
            return json.dumps({"version": self.version, "fault": self.fault}).encode()


def serve(live: LivePage, port: int = 0) -> ThreadingHTTPServer:
    """Serve a page on this machine in the background, at a free port if none is given. Raises OSError if it can't."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            made = {"/": (live.page, "text/html; charset=utf-8"), "/state": (live.state, "application/json")}
            # a page of another site must not read it through a name that leads here
            own = {f"{name}:{self.server.server_address[1]}" for name in (HOST, "localhost")}
            if self.path not in made or self.headers.get("Host") not in own:
                self.send_error(404)
                return
            make, kind = made[self.path]
            body = make()
            self.send_response(200)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_args) -> None:
            """Nothing: requests are of no interest to the maker."""

    server = ThreadingHTTPServer((HOST, port), Handler)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server


def stamps_of(paths: Iterable[Path]) -> Stamps:
    """When files were last changed, and their sizes; None for one that is not there."""
    found: Stamps = {}
    for path in paths:
        try:
            status = path.stat()
            found[path] = status.st_mtime_ns, status.st_size
        except OSError:
            found[path] = None
    return found


def changes(paths: Callable[[], Iterable[Path]], pause: Callable[[float], None] = time.sleep):
    """Yield at once, and again whenever one of the files that `paths` then names has changed."""
    while True:
        before = stamps_of(paths())
        yield
        # what was changed while the job was read counts too
        known = stamps_of(paths()) | before
        while stamps_of(known) == known:
            pause(PAUSE_S)
