"""``pollstead serve``: says where it is, who can reach it, and what is wrong when it cannot start."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import pytest

from pollstead.cli.serve import LOOPBACK, free_port, serve


def test_a_folder_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The path, and how to make a folder, stand in the message; the code is 1."""
    assert serve(tmp_path / "nowhere") == 1
    said = capsys.readouterr().err
    assert "nowhere" in said and "pollstead new" in said


def test_a_port_that_is_none_is_a_usage_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A number that no port has ends with 2 and names the bounds."""
    for port in (-1, 65_536):
        assert serve(tmp_path, port=port) == 2
        assert "0 to 65535" in capsys.readouterr().err


def test_a_port_in_use_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another program at the port: the message names it and the option; the code is 1."""
    with socket.socket() as other:
        other.bind((LOOPBACK, 0))
        other.listen()
        port = other.getsockname()[1]
        assert free_port(port) is None
        assert serve(tmp_path, port=port) == 1
    said = capsys.readouterr().err
    assert str(port) in said and "--port" in said


@pytest.mark.browser
def test_nobody_else_can_reach_the_app(serving: str) -> None:
    """The server listens on 127.0.0.1 alone, not on the machine's other addresses."""
    port = int(serving.rpartition(":")[2])
    with socket.create_connection((LOOPBACK, port)):
        pass
    other = socket.gethostbyname(socket.gethostname())
    if other.startswith("127."):
        other = "127.0.0.2"
    with pytest.raises(OSError):
        socket.create_connection((other, port), timeout=5)


@pytest.mark.browser
def test_the_server_answers_while_a_page_is_made(serving: str) -> None:
    """Several pages asked for at once are all answered."""
    import threading
    import urllib.request

    answers: list[Any] = []

    def ask() -> None:
        with urllib.request.urlopen(f"{serving}/help", timeout=30) as answer:  # noqa: S310 - our own
            answers.append(answer.status)

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [200] * 8
