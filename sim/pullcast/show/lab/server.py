"""Serving the page: on this machine alone unless told otherwise, everything it needs from here, no other origin."""

from __future__ import annotations

import errno
import gc
import logging
import os
import socket
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from html import escape
from importlib.util import find_spec
from multiprocessing import get_context
from pathlib import Path
from urllib.parse import urlencode

from pullcast.errors import InputError, PullcastError
from pullcast.show.lab.behind import Behind, Memory
from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.host import Shared
from pullcast.show.lab.hush import end_workers
from pullcast.show.lab.results import lumped_curve
from pullcast.show.lab.shelf import Shelf
from pullcast.show.lab.worker import start_worker
from pullcast.solve.sweep import default_workers
from pullcast.solve.warm import warm

HERE = Path(__file__).parent
LOOPBACK, FIRST_PORT, TRIED = "127.0.0.1", 5870, 50
LOOK = 2000  # ms between two looks after the open pages
FULL = ("All places are taken", "This machine serves as many live pages as it can. Close one that is not needed, "
        "or try again in a minute.", "Try again")
PUT_AWAY = ("This page was put away", "Nothing was moved on it for an hour, so its place was given free. What stood "
            "on it is in the link.", "Open it again as it stood")
LARGEST = 2_000_000  # bytes of one message of a page: a card has at most one million


def free_port(address: str, port: int | None) -> int:
    """``port`` if it is free (InputError if not), else the first free one from 5870 on."""
    for candidate in [port] if port else range(FIRST_PORT, FIRST_PORT + TRIED):
        with socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((address, candidate))
            except OverflowError:
                msg = f"--port {candidate}: a port is 1 to 65535"
                raise InputError(msg) from None
            except OSError as error:
                if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
                    msg = f"--address {address}: not an address of this machine ({error.strerror})"
                    raise InputError(msg) from None
                if port:
                    msg = f"--port {port} on {address}: {error.strerror or error}; without --port a free one is taken"
                    raise InputError(msg) from None
                continue
            return candidate
    msg = f"no port from {FIRST_PORT} to {FIRST_PORT + TRIED - 1} is free on {address}; name one with --port"
    raise InputError(msg)


def workers(width: int) -> ProcessPoolExecutor:
    """Processes that march waves; started afresh, not forked: the server has threads."""
    return ProcessPoolExecutor(width, mp_context=get_context("spawn"), initializer=start_worker,
                               initargs=(os.getpid(),))


def first_curve(shelf: Shelf, memory: Memory) -> None:
    """Compute the curve that a page opens with, and so load the compiled kernels, before anybody asks."""
    try:
        lumped_curve(set_up(Bench(card=shelf.first), shelf).engine, memory)
    except PullcastError:
        return  # the page says what is wrong


def page(shared: Shared) -> Callable:
    """What makes a page of each visitor's document."""
    from bokeh import __version__ as library

    from pullcast.show.lab.session import Session

    css, js = (text_of(f"page.{kind}") for kind in ("css", "js"))
    template, full = plain_template("page.html"), plain_template("away.html")

    def make(doc) -> None:
        doc.title = "pullcast"
        arguments = doc.session_context.request.arguments
        query = [(k, v[-1].decode("utf-8", "replace")) for k, v in arguments.items() if v]
        if shared.door.full:
            doc.template = full
            doc.template_variables.update(away(urlencode(query), *FULL), css=css)
            return
        session = Session(shared, query, doc)
        shared.door.enter(session)
        doc.on_session_destroyed(lambda context: session.close())
        with doc.models.freeze():
            for name, figure in session.figures().items():
                figure.name = name
                doc.add_root(figure)
            session.curves.curve.tags = [session.wire.carrier]  # it has no view of its own
        doc.config.notify_connection_status = False  # the page says it itself
        doc.template = template
        doc.template_variables.update(css=css, js=js, library=library)
        session.start()

    return make


def text_of(name: str) -> str:
    """A file beside this one."""
    return (HERE / name).read_text(encoding="utf-8")


def plain_template(name: str):
    """A page's template; what is put into it is not escaped here."""
    from bokeh.core.templates import get_env

    return get_env().from_string(text_of(name))


def away(query: str, head: str, text: str, link: str) -> dict[str, str]:
    """What the page says that stands for one that is full or was put away; its link leads to the same engine."""
    return {"head": head, "text": text, "link": link, "where": escape(f"./?{query}" if query else "./")}


def put_away_page():
    """What answers at ``/still``: where a page goes that was still too long."""
    from tornado.web import RequestHandler

    template, css = plain_template("away.html"), text_of("page.css")

    class Still(RequestHandler):
        """Says so, with the way back."""

        def get(self) -> None:
            """The page."""
            self.write(template.render(away(self.request.query, *PUT_AWAY), css=css))

    return Still


def serve(shelf: Shelf, *, port: int | None = None, address: str = LOOPBACK, show: bool = True, units: str = "si",
          say: Callable[[str], None] = lambda text: None) -> None:
    """Serve the page until interrupted; ``say`` is told where it is.

    Raises InputError for a port that is taken and for a missing library.
    """
    if find_spec("bokeh") is None:
        msg = "the live page needs one more library: pip install 'pullcast[lab]'"
        raise InputError(msg)
    port = free_port(address, port)
    warm(say)
    width = default_workers(64)
    behind = Behind(lambda: workers(width), width)
    threads = ThreadPoolExecutor(2, thread_name_prefix="lumped")
    threads.submit(first_curve, shelf, behind.memory)  # while the libraries of the page are read
    shared = Shared(shelf, behind, threads, units)
    server = server_of(shared, address, port)
    host = f"[{address}]" if ":" in address else address
    say(f"The page is at http://{host}:{port}/ on this machine; Ctrl-C ends it.")
    try:
        if show:
            server.io_loop.add_callback(server.show, "/")
        gc.freeze()  # what was read so far stays: it need not be looked through again
        gc.enable()
        server.run_until_shutdown()
    finally:
        behind.close()
        end_workers()
        threads.shutdown(wait=False, cancel_futures=True)


def server_of(shared: Shared, address: str, port: int):
    """The server of the page: no other origin, no message longer than a card, pages looked after."""
    from bokeh.application import Application
    from bokeh.application.handlers.function import FunctionHandler
    from bokeh.server.server import Server
    from tornado.ioloop import PeriodicCallback

    for name in ("tornado.access", "bokeh.server.views.ws"):
        logging.getLogger(name).setLevel(logging.ERROR)
    names = dict.fromkeys((address, "localhost") if address == LOOPBACK else (address,))
    server = Server({"/": Application(FunctionHandler(page(shared)))}, port=port, address=address,
                    websocket_max_message_size=LARGEST, allow_websocket_origin=[f"{name}:{port}" for name in names],
                    check_unused_sessions_milliseconds=5000, unused_session_lifetime_milliseconds=60_000,
                    extra_patterns=[("/still", put_away_page())])
    PeriodicCallback(shared.door.look, LOOK).start()
    return server
