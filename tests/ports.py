"""Ports for servers in processes of their own."""

from __future__ import annotations

import socket


def free_port() -> int:
    """A port of the loopback address on which nothing listens now."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port: int = free.getsockname()[1]
    return port
