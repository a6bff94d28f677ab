import socket
import sys

import pytest

from pullcast.errors import InputError

pytest.importorskip("bokeh", reason="the live page's libraries are not installed")

from pullcast.show.lab.server import free_port, serve
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
