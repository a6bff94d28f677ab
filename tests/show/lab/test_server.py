import socket
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from pullcast.errors import InputError

pytest.importorskip("bokeh", reason="the live page's libraries are not installed")

from pullcast.show.lab.behind import Behind
from pullcast.show.lab.door import Door
from pullcast.show.lab.host import Shared
from pullcast.show.lab.server import free_port, serve, server_of
from pullcast.show.lab.shelf import Shelf


def test_a_port_that_is_taken_is_told_and_another_one_found():
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        taken = holder.getsockname()[1]
        with pytest.raises(InputError, match=f"--port {taken} on 127.0.0.1: .*without --port a free one is taken"):
            free_port("127.0.0.1", taken)
    assert free_port("127.0.0.1", taken) == taken
    assert 5870 <= free_port("127.0.0.1", None) < 5920


@pytest.mark.parametrize("address", ["nonsense.invalid", "192.0.2.1"])
def test_an_address_of_another_machine_is_told(address):
    with pytest.raises(InputError, match=f"--address {address}: not an address of this machine"):
        free_port(address, None)


@pytest.mark.parametrize("port", [70_000, -1])
def test_a_number_that_is_no_port_is_told(port):
    with pytest.raises(InputError, match="a port is 1 to 65535"):
        free_port("127.0.0.1", port)


def test_without_its_libraries_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "bokeh", None)
    with pytest.raises(InputError, match=r"pip install 'pullcast\[lab\]'"):
        serve(Shelf(), show=False)


def served(shelf, most, queries):
    """What a server with so many places answers to addresses asked for one after the other."""
    from tornado.httpclient import AsyncHTTPClient

    port = free_port("127.0.0.1", None)
    with ThreadPoolExecutor(1) as threads:
        shared = Shared(shelf, Behind(lambda: None, 1), threads, door=Door(most))
        server = server_of(shared, "127.0.0.1", port)
        server.start()

        async def ask():
            client = AsyncHTTPClient()
            return [(await client.fetch(f"http://127.0.0.1:{port}/{q}", request_timeout=120)).body.decode()
                    for q in queries]

        try:
            return server.io_loop.run_sync(ask)
        finally:
            server.stop()


def test_a_page_for_which_there_is_no_place_says_so_and_keeps_its_link(shelf):
    first, second = served(shelf, 1, ["?card=engines/lab_single.toml", "?card=engines/lab_single.toml&x=<b>%22"])
    assert "Aldermoor" not in second
    assert "<h1 id=" in first
    assert "All places are taken" in second
    assert 'href="./?card=engines%2Flab_single.toml&amp;x=%3Cb%3E%22"' in second
    assert "<script" not in second


def test_a_page_that_was_put_away_leads_back(shelf):
    told, = served(shelf, 1, ["still?spark=20&x=%3Cscript%3E%22%3E<i>"])
    assert "was put away" in told
    assert "spark=20" in told
    assert "<script" not in told
    assert "<i>" not in told
