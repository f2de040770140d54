"""A planned copy of the small county, and the app around it, for tests of pages."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from litestar import Litestar
from litestar.testing import TestClient
from tests.once import copied, made_once
from tests.web.paper_rows import keep_sheets

from pollstead.cli.plan import plan_folder
from pollstead.plan.terms.part import NoWatch
from pollstead.reconcile.site_balance import counting_devices
from pollstead.record.kinds.canvass import CanvassTotal
from pollstead.record.kinds.days import CountRead
from pollstead.show.web.app import make_app, stand_on
from pollstead.show.web.capabilities import Role
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.expected import issue
from pollstead.show.web.pages.site import find_site
from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie
from pollstead.work.foreman import Foreman

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SMALL = Path(__file__).resolve().parents[2] / "small"
PORT = 8734
ELECTION_DAY = dt.date(2028, 11, 7)
MORNING_MS = 1_857_724_800_000  # 2028-11-07 some time before opening, UTC


def make_planned(folder: Path) -> None:
    """Copy the small county to `folder` and give it a first plan version."""
    shutil.copytree(SMALL, folder, ignore=shutil.ignore_patterns("*.db*", "keys", "packets", "*.py"))
    plan_folder(folder, watch=NoWatch(), workers=1)


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small county with a plan version, made once in a run, whatever number of workers there are."""
    return made_once(tmp_path_factory, "planned-county", make_planned)


@pytest.fixture
def county(planned: Path, tmp_path: Path) -> Path:
    """This test's own copy of the planned county."""
    return copied(planned, tmp_path / "county")


class StillForeman(Foreman):
    """A foreman who starts no worker, so that jobs stay in line."""

    def start(self) -> None:
        """Do nothing."""

    def poke(self) -> None:
        """Do nothing."""

    def stop(self) -> None:
        """Do nothing."""


IDLE: list[Litestar] = []
"""Apps whose folder is closed: two hundred and fifty routes take a quarter of a second to put together."""


class App:
    """The app for one folder with a client for each role."""

    def __init__(self, path: Path) -> None:
        self.again = True  # set to False by a test that changes the app itself
        self.folder = OpenFolder(path, clock=lambda: MORNING_MS)
        foreman = StillForeman(self.folder.store, path)
        if IDLE:
            self.app = IDLE.pop()
            stand_on(self.app, self.folder, foreman)
        else:
            self.app = make_app(self.folder, foreman, PORT)

    def close(self) -> None:
        """Close the folder; the app stands on the next one."""
        self.folder.close()
        if self.again:
            IDLE.append(self.app)

    def client(self, role: Role | None, person: str = "person/P010") -> TestClient[Any]:
        """A browser at this app's address, under a name and role."""
        client: TestClient[Any] = TestClient(self.app, base_url=f"http://127.0.0.1:{PORT}")
        client.headers["sec-fetch-site"] = "same-origin"
        client.follow_redirects = False
        if role is not None:
            client.cookies.set(WHO_COOKIE, to_cookie(Who(person=person, role=role)))
        return client


@pytest.fixture
def app_of() -> Iterator[Callable[[Path], App]]:
    """The function that makes the app around a folder; what it made is closed after the test."""
    made: list[App] = []

    def make(path: Path) -> App:
        made.append(App(path))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def app(county: Path, app_of: Callable[[Path], App]) -> App:
    """The app around this test's county."""
    return app_of(county)


def issue_all(folder: OpenFolder) -> None:
    """Issue the expected list of every site for election day."""
    who = Who(person="person/P010", role=Role.COORDINATOR)
    version = folder.current()
    assert version is not None
    for plan in version.sites:
        issue(folder, who, find_site(folder, plan.site), ELECTION_DAY)


def read_differently(folder: OpenFolder, site: str) -> str:
    """Two people read 412 on a device's screen and 421 on its closing report; gives the device."""
    version = folder.current()
    assert version is not None
    plan = next(p for p in version.sites if p.site == site)
    device = counting_devices(plan, None, folder.snapshot(version.snapshot))[0].id
    for term, value, source in (
        ("public_counter_close", 412, "screen"),
        ("report_count_close", 421, "report"),
    ):
        folder.write(
            CountRead(term=term, value=value, source=source),
            who=Who(person="person/P001", role=Role.SITE_LEAD),
            subject=device,
            site=f"site/{site}",
            day=ELECTION_DAY.isoformat(),
        )
    return device


def count_differently(folder: OpenFolder, site: str) -> None:
    """A site counted 501 envelopes, and the canvass has 510."""
    folder.write(
        CountRead(term="provisional_envelopes", value=501, source="hand"),
        who=Who(person="person/P001", role=Role.SITE_LEAD),
        subject=f"site/{site}",
        site=f"site/{site}",
        day=ELECTION_DAY.isoformat(),
    )
    folder.write(
        CanvassTotal(mode="election_day", quantity="provisional_envelopes", source="report", total=510),
        who=Who(person="person/P010", role=Role.CLERK),
        subject=f"site/{site}",
        site=f"site/{site}",
    )


@pytest.fixture
def issued_app(app: App) -> App:
    """The app with every expected list of election day issued."""
    issue_all(app.folder)
    return app


@pytest.fixture(scope="session")
def serving(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The real server in its own process, on a copy with issued lists; gives its address."""
    path = copied(planned, tmp_path_factory.mktemp("served") / "county")
    folder = OpenFolder(path, clock=lambda: MORNING_MS)
    issue_all(folder)
    keep_sheets(folder)
    read_differently(folder, "S36")
    count_differently(folder, "S36")
    folder.close()
    process = subprocess.Popen(
        [sys.executable, "-m", "pollstead.cli.main", "serve", str(path), "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    assert "http://127.0.0.1:" in line, line
    yield line.split()[-1].rstrip("/")
    process.terminate()
    assert process.wait(timeout=20) == 0


@pytest.fixture(scope="session")
def browser(chromium: str, chromium_arguments: Sequence[str]) -> Iterator[Browser]:
    """One Chromium for all tests of a worker: a second driver cannot start while the first one runs."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=list(chromium_arguments))
        yield started
        started.close()
