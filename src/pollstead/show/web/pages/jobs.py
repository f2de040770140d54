"""The jobs page: what is being worked on, how far it is, and how it ended."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

import msgspec
from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.part import Effort
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread, part
from pollstead.store.jobs import Job, JobState
from pollstead.work.kinds import KINDS, PlanArguments, PrintArguments
from pollstead.work.line import ask_for, interrupted, sweep

if TYPE_CHECKING:
    from pollstead.work.foreman import Foreman

STATE_WORDS = {
    JobState.WAITING: (N_("waiting in line"), "ring"),
    JobState.RUNNING: (N_("running"), "half"),
    JobState.CANCELLING: (N_("stopping"), "half"),
    JobState.CANCELLED: (N_("stopped as asked"), "cross"),
    JobState.DONE: (N_("done"), "square"),
    JobState.FAILED: (N_("could not be done"), "diamond"),
}
AGAIN = (JobState.FAILED, JobState.CANCELLED)
INTERRUPTED_WORDS = (N_("interrupted"), "diamond")


class JobLine(Value, frozen=True, kw_only=True):
    """One job as a reader sees it; `part` is what it is at, `said` what it said at its end."""

    id: str
    words: str
    state_words: str
    shape: str
    part: str
    done: int
    total: int
    said: str
    made: tuple[Message, str] | None
    by: str
    asked_utc_ms: int
    ended_utc_ms: int | None
    open: bool
    again: bool


class JobsPage(Page, frozen=True, kw_only=True):
    """The jobs of this folder, the newest first."""

    template: ClassVar[str] = "jobs.html"

    jobs: tuple[JobLine, ...]
    moving: bool
    zone: str
    may_compute: bool
    efforts: tuple[str, ...]


def job_line(job: Job, by: str) -> JobLine:
    """One job as a line."""
    words, shape = INTERRUPTED_WORDS if interrupted(job) else STATE_WORDS[job.state]
    is_open = job.state in (JobState.WAITING, JobState.RUNNING, JobState.CANCELLING)
    return JobLine(
        id=job.id,
        words=KINDS[job.kind].words if job.kind in KINDS else job.kind,
        state_words=words,
        shape=shape,
        part=job.message if is_open else "",
        done=job.progress_done,
        total=job.progress_total,
        said="" if is_open else job.message,
        made=made_by(job),
        by=by,
        asked_utc_ms=job.requested_utc_ms,
        ended_utc_ms=job.ended_utc_ms,
        open=is_open,
        again=job.state in AGAIN,
    )


def made_by(job: Job) -> tuple[Message, str] | None:
    """What a finished job made, in words, and the page where it is shown ("" for none)."""
    if job.state is not JobState.DONE or job.result is None:
        return None
    result = msgspec.json.decode(job.result)
    if job.kind == "plan" and isinstance(result, str):
        return message(N_("Plan version {digest}"), digest=result[:12]), f"/versions/{result}"
    if job.kind == "split":
        return message(N_("A split of the fleet")), f"/allocation?job={job.id}"
    if job.kind == "print" and isinstance(result, dict):
        words = message(
            N_("{files} files with {pages} pages in {folder}"),
            files=int(result.get("files", 0)),
            pages=int(result.get("pages", 0)),
            folder=str(result.get("folder", "")),
        )
        left_out = ", ".join(str(site) for site, _ in result.get("not_printed", ()))
        if left_out:
            words = message(
                N_("{made}; not printed, because no font here has their letters: {sites}"),
                made=words.english(),
                sites=left_out,
            )
        return words, ""
    return None


def jobs_page(ask: Ask) -> JobsPage:
    """The jobs page as asked for."""
    sweep(ask.folder.store, ask.folder.path, ask.folder.clock())
    lines = tuple(
        job_line(job, ask.folder.person_name(job.requested_by)) for job in ask.folder.store.jobs.list(30)
    )
    return JobsPage(
        **ask.frame(N_("What is being worked on?")),
        jobs=lines,
        moving=any(line.open for line in lines),
        zone=ask.folder.zone_name,
        may_compute=ask.may(Capability.COMPUTE),
        efforts=tuple(effort.value for effort in Effort),
    )


def _foreman(request: Request[Any, Any, Any]) -> Foreman:
    foreman: Foreman = request.app.state.foreman
    return foreman


@get("/jobs")
@in_thread
def jobs(request: Request[Any, Any, Any]) -> Response[str]:
    """The page, or its list alone for the page that is open already."""
    ask = Ask(request)
    page = jobs_page(ask)
    return part(ask, "_jobs_list.html", page) if ask.query.get("part") == "list" else answer(ask, page)


@post("/jobs")
@in_thread
def ask_for_job(request: Request[Any, Any, Any]) -> Response[Any]:
    """Put a job in line, or one that ended back in line."""
    ask = Ask(request)
    again = ask.form.text("again")
    kind = ask.form.text("kind")
    if again:
        _again(ask, again)
    elif kind == "plan":
        effort = ask.form.text("effort")
        if effort not in set(Effort):
            raise Trouble(
                400, N_("This amount of work is not one of those offered."), N_("Choose one."), "/jobs"
            )
        _line_up(ask, kind, PlanArguments(effort=Effort(effort)))
    elif kind == "print":
        # Before the record has begun there is nothing to write the prints into.
        by = ask.person().person if ask.folder.store.header() is not None else ""
        _line_up(
            ask,
            kind,
            PrintArguments(site=ask.form.text("site")[:80], by=by, large=bool(ask.form.text("large"))),
        )
    else:
        raise Trouble(400, N_("This kind of job is not one of those offered."), N_("Choose one."), "/jobs")
    _foreman(request).poke()
    return go("/jobs")


def _again(ask: Ask, job_id: str) -> None:
    """Put a job back in line that ended without being done; one that moves or is done stays as it is."""
    try:
        job = ask.folder.store.jobs.get(job_id)
    except ValueError as error:
        raise no_such_job() from error
    if job.state in AGAIN:
        ask.folder.store.jobs.restart(job_id)


def _line_up(ask: Ask, kind: str, arguments: PlanArguments | PrintArguments) -> None:
    ask_for(ask.folder.store, kind, arguments, by=ask.person().person, utc_ms=ask.folder.clock())


@post("/jobs/{job:str}/cancel")
@in_thread
def cancel_job(request: Request[Any, Any, Any], job: FromPath[str]) -> Response[Any]:
    """Ask a job to stop."""
    ask = Ask(request)
    try:
        ask.folder.store.jobs.cancel(job, ask.folder.clock())
    except ValueError as error:
        raise no_such_job() from error
    return go("/jobs")


def no_such_job() -> Trouble:
    """The trouble of a job that is not in the table."""
    return Trouble(404, N_("There is no such job."), N_("The page Jobs lists those that there are."), "/jobs")
