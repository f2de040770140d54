"""Jobs asked for, stopped and started again from the page, in the order and under the name of who asked."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pollstead.plan.terms.part import Effort
from pollstead.show.web.capabilities import Role
from pollstead.store.jobs import JobState
from pollstead.work.kinds import PlanArguments, PrintArguments, decode_arguments
from pollstead.work.line import INTERRUPTED

pytestmark = pytest.mark.full


def test_a_plan_is_asked_for_with_its_amount_of_work(app: Any) -> None:
    """The form puts one job in line, by the person, with the effort chosen; other amounts are refused."""
    with app.client(Role.HELPER, "person/P012") as client:
        assert client.post("/jobs", data={"kind": "plan", "effort": "deep"}).status_code == 303
        assert client.post("/jobs", data={"kind": "plan", "effort": "endless"}).status_code == 400
        assert client.post("/jobs", data={"kind": "format the disk"}).status_code == 400
        text = client.get("/jobs").text
    [job] = app.folder.store.jobs.list()
    assert decode_arguments(job.kind, job.arguments) == PlanArguments(effort=Effort.DEEP)
    assert job.requested_by == "person/P012" and "Linnea Thackeray-Voss" in text


def test_one_sites_packet_is_asked_for_from_its_page(issued_app: Any) -> None:
    """The site's page asks for its own packet, and says who prints once there is a record."""
    with issued_app.client(Role.COORDINATOR) as client:
        assert 'name="site" value="S01"' in client.get("/site/S01").text
        client.post("/jobs", data={"kind": "print", "site": "S01"})
    [job] = issued_app.folder.store.jobs.list()
    assert decode_arguments(job.kind, job.arguments) == PrintArguments(site="S01", by="person/P010")


def test_packets_are_asked_for_in_large_type_by_a_tick(app: Any) -> None:
    """The tick box of the print form goes with the job; without it type has its usual size."""
    with app.client(Role.COORDINATOR) as client:
        assert 'name="large"' in client.get("/jobs").text
        client.post("/jobs", data={"kind": "print", "large": "yes"})
        client.post("/jobs", data={"kind": "print"})
    jobs = app.folder.store.jobs.list()
    assert sorted(decode_arguments(job.kind, job.arguments).large for job in jobs) == [False, True]


def test_a_job_is_stopped_and_started_again(app: Any) -> None:
    """A waiting job stops at once, stands as stopped, and can be put in line again."""
    with app.client(Role.COORDINATOR) as client:
        client.post("/jobs", data={"kind": "plan", "effort": "quick"})
        [job] = app.folder.store.jobs.list()
        assert client.post(f"/jobs/{job.id}/cancel").status_code == 303
        assert "stopped as asked" in client.get("/jobs").text
        assert client.post("/jobs", data={"again": job.id}).status_code == 303
        assert client.post("/jobs", data={"again": "job-none"}).status_code == 404
        assert client.post("/jobs/job-none/cancel").status_code == 404
        assert app.folder.store.jobs.get(job.id).state is JobState.WAITING
        app.folder.store.jobs.take(1)
        client.post("/jobs", data={"again": job.id})  # a running job is not run twice
    assert app.folder.store.jobs.get(job.id).state is JobState.RUNNING


def test_an_interrupted_job_is_found_when_the_page_is_opened(app: Any) -> None:
    """A job whose worker is gone is shown as interrupted, with a way to start it again."""
    with app.client(Role.COORDINATOR) as client:
        client.post("/jobs", data={"kind": "plan", "effort": "quick"})
        app.folder.store.jobs.take(1)
        text = client.get("/jobs").text
    assert INTERRUPTED in text and "Start again" in text and ">interrupted<" in text.replace("\n", "")


def test_a_finished_plan_leads_to_its_version(app: Any) -> None:
    """The line of a finished plan links to what it made; that of a print counts files and pages."""
    digest = app.folder.current_digest()
    jobs = app.folder.store.jobs
    with app.client(Role.COORDINATOR) as client:
        for kind, result in (("plan", digest), ("print", {"files": 6, "pages": 90, "folder": "x/packets"})):
            client.post("/jobs", data={"kind": kind, "effort": "quick"})
            job = jobs.take(1)
            jobs.finish(job.id, JobState.DONE, utc_ms=2, result=json.dumps(result).encode())
        text = client.get("/jobs").text
    assert f'href="/versions/{digest}"' in text and "x/packets" in text and ">90<" in text


def test_the_list_asks_for_itself_only_while_something_moves(app: Any) -> None:
    """With no job open the page is still; with one in line it looks again every two seconds."""
    with app.client(Role.COORDINATOR) as client:
        assert "hx-trigger" not in client.get("/jobs").text
        client.post("/jobs", data={"kind": "plan", "effort": "quick"})
        part = client.get("/jobs?part=list").text
    assert "every 2s" in part and "<html" not in part


def test_a_version_is_approved_by_name_once(app: Any) -> None:
    """Approval needs the ticked box and a coordinator, is one event, and stands with the name."""
    digest = app.folder.current_digest()
    with app.client(Role.COORDINATOR) as client:
        assert client.post(f"/versions/{digest}/approve", data={}).status_code == 422
        for _ in range(2):
            assert client.post(f"/versions/{digest}/approve", data={"sure": "yes"}).status_code == 303
        assert "Marit Ostrander" in client.get(f"/versions/{digest}").text
    approvals = [s for s in app.folder.store.events.all() if s.event.kind == "plan.approved"]
    assert len(approvals) == 1


def test_an_expected_list_is_issued_for_what_was_looked_at(app: Any) -> None:
    """Issuing names plan and list; a form made for others is refused, and issuing again amends."""
    with app.client(Role.COORDINATOR) as client:
        form = {
            "day": "2028-11-07",
            "plan": app.folder.current_digest(),
            "list": "",
            "reason": "tests are kept on paper",
        }
        assert client.post("/site/S01/expected", data=form | {"plan": "0" * 64}).status_code == 409
        assert client.post("/site/S01/expected", data=form).status_code == 303
        assert client.post("/site/S01/expected", data=form).status_code == 409
        assert "This list is issued" in client.get("/site/S01/expected?day=2028-11-07").text
    kinds = [s.event.kind for s in app.folder.store.events.all()]
    assert kinds.count("expected.issued") == 1 and kinds.count("expected.amended") == 0
