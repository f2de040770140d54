"""Sizing spread over processes of this machine, or over machines that join a scheduler.

Only with the same code: each task names the code and engines that it needs, and a process that has others
refuses. So a plan is the same, byte by byte, wherever its sites were sized. A process that is killed costs
time alone: the scheduler gives its sites to another one.

A scheduler runs what it is sent. Use one on machines and a network of the county alone.
"""

from __future__ import annotations

import functools
import io
import logging
import math
import pickle  # nosec B403 - of what this process made itself, or a scheduler that the county runs
import re
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from pollstead.election.values import frozen_array
from pollstead.election.words import N_
from pollstead.plan.terms.spreading import InThreads, Spreading
from pollstead.work.county_folder import Refused, engines, refuse
from pollstead.work.keeping import salt

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterator, Sequence

Given = TypeVar("Given")
Made = TypeVar("Made")

HERE = "local:"
ADDRESS = re.compile(r"(tcp|tls)://\S+:\d+")
CONNECT_SECONDS = 10
MOST_PROCESSES = 256
MOST_IN_A_TASK = 25
TASKS_A_PROCESS = 16
"""Tasks for each process, so that none waits long for the last one; a task costs about 2 ms to hand out."""


class OtherCode(RuntimeError):
    """A process of the cluster has other code or engines than the one that asks."""


class _FrozenPickler(pickle.Pickler):
    """Keeps read-only arrays read-only, which `Value` asks for when it is made again."""

    def reducer_override(self, value: Any) -> Any:
        import numpy as np

        if type(value) is np.ndarray and not value.flags.writeable:
            return frozen_array, (np.array(value), value.dtype.str)
        return NotImplemented


def packed(value: object) -> bytes:
    """A value with read-only arrays as bytes for another process of the same code."""
    stream = io.BytesIO()
    _FrozenPickler(stream, protocol=pickle.HIGHEST_PROTOCOL).dump(value)
    return stream.getvalue()


def _made_there(code: str, payload: bytes) -> bytes:
    """Runs in a process of the cluster: makes all things of one task."""
    here = salt(engines())
    if here != code:
        raise OtherCode(f"expected code {code}, found {here}")
    make, given = pickle.loads(payload)  # noqa: S301  # nosec B301 - from the process that asks
    return packed([make(one) for one in given])


class OnCluster:
    """A `Spreading` over the processes that a scheduler knows."""

    def __init__(self, client: Any) -> None:
        self._client = client

    def in_order(self, make: Callable[[Given], Made], given: Sequence[Given]) -> Generator[Made, None, None]:
        """See `Spreading.in_order`. Raises `Refused` where the cluster cannot do it."""
        import distributed

        processes = max(1, len(self._client.scheduler_info()["workers"]))
        size = min(MOST_IN_A_TASK, max(1, math.ceil(len(given) / (processes * TASKS_A_PROCESS))))
        parts = [list(given[at : at + size]) for at in range(0, len(given), size)]
        code = salt(engines())
        send = functools.partial(self._client.submit, _made_there, code, pure=False)
        tasks = [send(packed((make, part))) for part in parts]
        try:
            for task in tasks:
                yield from pickle.loads(task.result())  # noqa: S301  # nosec B301 - made by our own task
        except OtherCode as error:
            raise Refused(
                _said(
                    N_(
                        "A process of the cluster has another version of Pollstead or of its engines "
                        "({error}). Install the same version on every machine, then plan again."
                    ),
                    error,
                )
            ) from error
        except distributed.KilledWorker as error:
            raise Refused(
                _said(
                    N_(
                        "A task ended its process again and again ({error}). Give the processes more memory, "
                        "or plan with --workers 1 to see where it stops."
                    ),
                    error,
                )
            ) from error
        finally:
            self._client.cancel(tasks)


def _said(template: str, error: Exception) -> Any:
    from pollstead.election.words import message

    return message(template, error=str(error))


def workers_asked(asked: str) -> int | str:
    """What ``--workers`` says: a number of threads, ``local:N`` or a scheduler's address.

    Raises `Refused` for anything else.
    """
    if asked.isdecimal() and len(asked) < 6:
        return int(asked)
    if asked.startswith(HERE) and asked[len(HERE) :].isdecimal():
        if 1 <= int(asked[len(HERE) :][:6]) <= MOST_PROCESSES:
            return asked
    elif ADDRESS.fullmatch(asked):
        return asked
    refuse(
        N_(
            "Workers {asked}: expected a number of threads (0 takes all), local: with a number of "
            "processes from 1 to {most}, such as local:4, or a scheduler's address such as "
            "tcp://10.0.0.5:8786."
        ),
        asked=asked,
        most=MOST_PROCESSES,
    )


@contextmanager
def spreading(workers: int | str) -> Iterator[Spreading]:
    """Threads for a number, else a cluster; what was started here ends with the context.

    Raises `Refused` where no scheduler answers within `CONNECT_SECONDS`, or none of its processes is there.
    """
    if isinstance(workers, int):
        yield InThreads(workers)
        return
    import distributed

    logging.getLogger("distributed").setLevel(logging.ERROR)
    if workers.startswith(HERE):
        count = int(workers[len(HERE) :])
        with (
            distributed.LocalCluster(  # type: ignore[no-untyped-call]
                n_workers=count, threads_per_worker=1, processes=True, dashboard_address=None
            ) as cluster,
            distributed.Client(cluster) as client,  # type: ignore[no-untyped-call]
        ):
            yield OnCluster(client)
        return
    try:
        client = distributed.Client(workers, timeout=CONNECT_SECONDS)  # type: ignore[no-untyped-call]
    except OSError:
        refuse(
            N_(
                "No scheduler answers at {address} within {seconds} seconds. Start one there (dask "
                "scheduler), start workers (dask worker {address}), or give a number of threads."
            ),
            address=workers,
            seconds=CONNECT_SECONDS,
        )
    with client:
        try:
            client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        except TimeoutError:
            refuse(
                N_(
                    "The scheduler at {address} has no worker. Start one on each machine "
                    "(dask worker {address}), then plan again."
                ),
                address=workers,
            )
        yield OnCluster(client)
