"""The process that compiles while nobody waits: begun, waited for, ended with the app, or never begun."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

from pollstead.show.web import ahead
from pollstead.show.web.ahead import NOTHING_AHEAD, Ahead


def begun(monkeypatch: pytest.MonkeyPatch, code: str) -> Ahead:
    """One whose process runs other code, which takes no quarter of a minute."""
    start = subprocess.Popen
    monkeypatch.delenv(NOTHING_AHEAD, raising=False)
    monkeypatch.setattr(
        ahead.subprocess, "Popen", lambda command, **more: start([sys.executable, "-c", code], **more)
    )
    one = Ahead()
    one.start()
    return one


def test_whoever_needs_it_waits_until_it_is_made(
    monkeypatch: pytest.MonkeyPatch, tmp_path: pytest.TempPathFactory
) -> None:
    """The process has ended when the wait has."""
    made = f"{tmp_path}/made"
    begun(monkeypatch, f"import time; time.sleep(0.2); open({made!r}, 'w').close()").wait()
    with open(made, encoding="utf-8"):
        pass


def test_it_ends_with_the_app_and_nobody_waits_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped in the middle; and a page waits no longer than is said."""
    monkeypatch.setattr(ahead, "LONGEST_WAIT_S", 0.1)
    began = time.monotonic()
    one = begun(monkeypatch, "import time; time.sleep(60)")
    one.wait()
    one.stop()
    one.wait()
    assert time.monotonic() - began < 30


def test_nothing_is_begun_where_the_environment_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in these tests."""
    monkeypatch.setenv(NOTHING_AHEAD, "1")
    monkeypatch.setattr(ahead.subprocess, "Popen", None)
    one = Ahead()
    one.start()
    one.wait()
    one.stop()
