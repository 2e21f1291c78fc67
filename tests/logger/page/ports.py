"""Ports that nobody has."""

from __future__ import annotations

import socket


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])
