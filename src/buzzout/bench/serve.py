"""The live page on this machine: loopback only, behind a random token, nothing can be sent to it.

Serving is the standard library's, watching is `watchfiles`. The page asks for what is newer than
what it shows; the answer waits until there is something.
"""

from __future__ import annotations

import json
import secrets
import threading
from collections.abc import Callable
from contextlib import suppress
from contextvars import copy_context
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from markupsafe import Markup

from buzzout.bench.folder import Folder
from buzzout.bench.live import Live
from buzzout.bench.pages import rendered

LOOPBACK = "127.0.0.1"
_PATIENCE = 20.0  # how long an answer may wait for something new [s]
_GLANCE = 0.5  # how often Ctrl-C is looked for, where waiting does not notice it [s]
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'nonce-{nonce}'; connect-src 'self';"
    " base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class Server(ThreadingHTTPServer):
    """Serves one job. `address` is where the page is, token and all."""

    daemon_threads = True

    def __init__(self, live: Live, port: int = 0) -> None:
        """Listen on the loopback address; port 0 takes any that is free."""
        self.live = live
        self.token = secrets.token_urlsafe(24)
        super().__init__((LOOPBACK, port), _Page)

    @property
    def hosts(self) -> tuple[str, str]:
        """The names by which a browser on this machine may call us."""
        return f"{LOOPBACK}:{self.server_port}", f"localhost:{self.server_port}"

    @property
    def address(self) -> str:
        """The address to open in a browser."""
        return f"http://{self.hosts[0]}/{self.token}/"


class _Page(BaseHTTPRequestHandler):
    """Answers GET for the page and for news; everything else is refused."""

    server: Server
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        """Send the page, or what is newer than the page has."""
        if self.headers.get("Host") not in self.server.hosts:  # a foreign name that leads here
            self._send(HTTPStatus.FORBIDDEN, "not for this name", "text/plain")
            return
        asked = urlsplit(self.path)
        _, token, *rest = asked.path.split("/")
        if not secrets.compare_digest(token.encode(), self.server.token.encode()):
            self._send(HTTPStatus.NOT_FOUND, "nothing here", "text/plain")
        elif rest == [""]:
            self._page()
        elif rest == ["now"]:
            self._news(parse_qs(asked.query).get("after", ["0"])[0])
        else:
            self._send(HTTPStatus.NOT_FOUND, "nothing here", "text/plain")

    def _page(self) -> None:
        """The whole page with what is known now; it reads without a script as well."""
        number, view = self.server.live.wait(-1, 0.0)
        nonce = secrets.token_urlsafe(12)
        now = Markup(view.as_html())  # noqa: S704 - escaped where it was made
        page = rendered("live.html", now=now, stands=view.stands, number=number, nonce=nonce)
        self._send(HTTPStatus.OK, page, "text/html", nonce)

    def _news(self, after: str) -> None:
        number, view = self.server.live.wait(int(after) if after.isdigit() else 0, _PATIENCE)
        news = {"number": number, "stage": view.stage, "stands": view.stands}
        body = json.dumps({**news, "html": view.as_html()})
        self._send(HTTPStatus.OK, body, "application/json")

    def _send(self, status: HTTPStatus, body: str, kind: str, nonce: str = "") -> None:
        data = body.encode()
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(data)))
        self.send_header("Content-Security-Policy", _POLICY.format(nonce=nonce))
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        self.send_header("Cache-Control", "no-store")
        with suppress(ConnectionError):  # the page was closed meanwhile
            self.end_headers()
            self.wfile.write(data)

    def log_message(self, *_: object) -> None:
        """Say nothing: the terminal belongs to the person, and the token stays out of logs."""


def serve(folder: Folder, tell: Callable[[str], None], port: int = 0) -> None:
    """Keep a page of the job up to date until it is interrupted (Ctrl-C)."""
    live = Live(folder)
    server = Server(live, port)
    stop = threading.Event()
    works = (
        server.serve_forever, lambda: keep_fresh(live, stop), lambda: keep_compared(live, stop)
    )  # fmt: skip
    for work in works:
        run = copy_context().run  # the person's own devices are known in here as well
        threading.Thread(target=run, args=(work,), daemon=True).start()
    tell(server.address)
    try:
        while not stop.wait(_GLANCE):
            pass
    except KeyboardInterrupt:
        pass
    finally:
        stop.set()
        server.shutdown()
        server.server_close()


def keep_fresh(live: Live, stop: threading.Event) -> None:
    """Read the job now and whenever one of its files is saved, until `stop` is set.

    The comparison is another thread's: see `keep_compared`.
    """
    from watchfiles import watch  # noqa: PLC0415 - only the live page needs it

    live.look()
    for _ in watch(live.folder.path, stop_event=stop, watch_filter=_ours, debounce=200, step=10):
        live.look()


def keep_compared(live: Live, stop: threading.Event) -> None:
    """Compare what was read last, again and again, until `stop` is set."""
    while not stop.is_set():
        if live.wait_for_work(_GLANCE):
            live.settle()


def _ours(_change: object, path: str) -> bool:
    """Files of the job; not what an editor or we write beside them for a moment."""
    name = Path(path).name
    return name.endswith((".buzz", "decisions.txt")) and not name.startswith((".", "#", "~"))
