from __future__ import annotations

import ipaddress

import segno
from rich.console import Console

from logger.page.addresses import is_local, own_addresses, square, urls


def test_an_address_holds_the_token_as_a_folder() -> None:
    assert urls("http", "127.0.0.1", 8720, "abc") == ("http://127.0.0.1:8720/abc/",)
    assert urls("https", "fd00::1", 8720, "abc") == ("https://[fd00::1]:8720/abc/",)


def test_everywhere_is_told_by_the_addresses_that_others_reach() -> None:
    found = urls("http", "0.0.0.0", 8720, "abc")
    assert found[-1] == "http://127.0.0.1:8720/abc/"
    assert len(found) == len(own_addresses()) + 1


def test_own_addresses_are_of_networks() -> None:
    for address in own_addresses():
        assert not ipaddress.ip_address(address).is_loopback


def test_what_only_this_machine_reaches() -> None:
    assert is_local("127.0.0.1")
    assert is_local("localhost")
    assert not is_local("0.0.0.0")
    assert not is_local("bench.example")


def test_the_square_is_the_code_module_for_module() -> None:
    url = "http://192.168.1.23:8720/K7dQvPpEjF3mS1aZ0xYbWg/"
    console = Console(
        width=80, record=True, color_system="standard", force_terminal=True, file=None, quiet=False
    )
    with console.capture():
        console.print(square(url))
    lines = square(url).plain.splitlines()
    halves = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}
    modules = []
    for line in lines:
        modules.append([halves[character][0] for character in line])
        modules.append([halves[character][1] for character in line])
    wanted = [list(row) for row in segno.make(url, error="m", micro=False).matrix_iter(border=4)]
    assert modules[: len(wanted)] == wanted
    assert max(len(line) for line in lines) <= 60  # a terminal of 80 columns has room
