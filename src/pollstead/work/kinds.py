"""Which kinds of job there are, what each takes, and the one function that does it.

The function is named by text, so that this part knows no page and no command: the child process
alone imports it. The command line calls the same function.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from types import MappingProxyType
from typing import Annotated, Any, Final

import msgspec
from msgspec import Meta

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.split import Goal


class PlanArguments(Value, frozen=True, kw_only=True):
    """What a plan job takes: how much work, and the root seed."""

    effort: Effort = Effort.QUICK
    seed: Annotated[int, Meta(ge=0, lt=1 << 53)] = 1


class PrintArguments(Value, frozen=True, kw_only=True):
    """What a print job takes: one site by id, or empty for all; in large type; who prints, for the record."""

    site: Annotated[str, Meta(max_length=80)] = ""
    by: Annotated[str, Meta(max_length=80)] = ""
    large: bool = False


class SplitArguments(Value, frozen=True, kw_only=True):
    """What a split job takes: what is made least, days, and the spares to try (None: as the rules say)."""

    goal: Goal = Goal.TOTAL
    within_percent: Annotated[int, Meta(ge=0, le=1000)] = 10
    stay_min: Annotated[int, Meta(ge=0, le=10_000)] = 5
    days: Annotated[int, Meta(ge=1, le=8192)] = 64
    fresh_days: Annotated[int, Meta(ge=1, le=8192)] = 256
    spare_share_ppm: Annotated[int, Meta(ge=0, le=1_000_000)] | None = None
    run_out_ppm: Annotated[int, Meta(ge=1, le=1_000_000)] | None = None


class ChangeArguments(Value, frozen=True, kw_only=True):
    """What a job that carries out a change takes: nothing, since what was begun is kept in the store."""


class JobKind(Value, frozen=True, kw_only=True):
    """One kind of job: its words, its arguments' class by name, and its function as ``module:name``."""

    id: str
    words: str
    target: str


KINDS: Final = MappingProxyType(
    {
        kind.id: kind
        for kind in (
            JobKind(id="plan", words=N_("Make a plan version"), target="pollstead.show.planning:plan_folder"),
            JobKind(
                id="change",
                words=N_("Carry out a change"),
                target="pollstead.cli.change:carry_on_folder",
            ),
            JobKind(id="split", words=N_("Split the fleet"), target="pollstead.work.split_kept:keep_split"),
            JobKind(id="print", words=N_("Print site packets"), target="pollstead.cli.print:print_folder"),
        )
    }
)
ARGUMENTS: Final = MappingProxyType(
    {
        "plan": PlanArguments,
        "change": ChangeArguments,
        "split": SplitArguments,
        "print": PrintArguments,
    }
)


def encode_arguments(arguments: Value) -> bytes:
    """Arguments as the bytes that the table of jobs keeps."""
    return msgspec.json.encode(arguments)


def decode_arguments(kind: str, data: bytes) -> Value:
    """The arguments of a job; raises ValueError for an unknown kind or what does not fit."""
    if kind not in ARGUMENTS:
        raise ValueError(f"kind must be one of {', '.join(sorted(ARGUMENTS))}, got {kind!r}")
    try:
        read: Value = msgspec.json.decode(data, type=ARGUMENTS[kind], strict=True)
    except msgspec.DecodeError as error:
        raise ValueError(f"the arguments of a {kind} job do not fit: {error}") from error
    return read


def function_of(kind: str) -> Callable[..., Any]:
    """The function that does jobs of `kind`; it takes folder, watch, and the arguments by name."""
    if kind not in KINDS:
        raise ValueError(f"kind must be one of {', '.join(sorted(KINDS))}, got {kind!r}")
    module, _, name = KINDS[kind].target.partition(":")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found
