"""Serving the page: on this machine alone unless told otherwise, everything it needs from here, no other origin."""

from __future__ import annotations

import errno
import logging
import os
import socket
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from pullcast.errors import InputError
from pullcast.show.lab.behind import Behind, start_worker
from pullcast.show.lab.host import Shared
from pullcast.show.lab.session import Session
from pullcast.show.lab.shelf import Shelf
from pullcast.solve.sweep import default_workers
from pullcast.solve.warm import warm

HERE = Path(__file__).parent
LOOPBACK, FIRST_PORT, TRIED = "127.0.0.1", 5870, 50
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


def page(shared: Shared) -> Callable:
    """What makes a page for each visitor."""
    import panel as pn

    html = (HERE / "page.html").read_text(encoding="utf-8")
    css = (HERE / "page.css").read_text(encoding="utf-8")

    def make():
        doc = pn.state.curdoc
        arguments = pn.state.session_args or {}
        query = [(k, v[-1].decode("utf-8", "replace")) for k, v in arguments.items() if v]
        session = Session(shared, query, doc)
        doc.on_session_destroyed(lambda context: session.close())
        template = pn.Template(html)
        template.add_variable("css", css)
        roots = {"curve": session.curves.curve, "difference": session.curves.difference,
                 **{name: getattr(session.cycles, name) for name in ("lifts", "pressures", "flows", "loop", "waves")},
                 "lesson_a": session.lessons.figures.a, "lesson_b": session.lessons.figures.b}
        for name, figure in roots.items():
            template.add_panel(name, pn.pane.Bokeh(figure, sizing_mode="stretch_both", margin=0))
        template.add_panel("wire", session.wire)
        session.start()
        return template

    return make


def serve(shelf: Shelf, *, port: int | None = None, address: str = LOOPBACK, show: bool = True, units: str = "si",
          say: Callable[[str], None] = lambda text: None) -> None:
    """Serve the page until interrupted; ``say`` is told where it is.

    Raises InputError for a port that is taken and for a missing library.
    """
    try:
        import panel as pn
    except ImportError:
        msg = "the live page needs two more libraries: pip install 'pullcast[lab]'"
        raise InputError(msg) from None
    port = free_port(address, port)
    warm(say)
    width = default_workers(64)
    behind = Behind(lambda: workers(width), width)
    threads = ThreadPoolExecutor(2, thread_name_prefix="lumped")
    names = dict.fromkeys((address, "localhost") if address == LOOPBACK else (address,))
    host = f"[{address}]" if ":" in address else address
    for name in ("tornado.access", "bokeh.server.views.ws"):
        logging.getLogger(name).setLevel(logging.ERROR)
    say(f"The page is at http://{host}:{port}/ on this machine; Ctrl-C ends it.")
    try:
        pn.serve({"/": page(Shared(shelf, behind, threads, units))}, port=port, address=address, show=show,
                 title="pullcast", websocket_origin=[f"{name}:{port}" for name in names], verbose=False,
                 websocket_max_message_size=LARGEST, admin=False, autoreload=False,
                 check_unused_sessions_milliseconds=5000, unused_session_lifetime_milliseconds=60_000)
    finally:
        behind.close()
        threads.shutdown(wait=False, cancel_futures=True)
