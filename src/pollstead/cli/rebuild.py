"""``pollstead rebuild``: recompute every plan version and compare it with the one kept, byte by byte."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digests, engines, store_of, tell, version_of
from pollstead.election.words import N_, message
from pollstead.plan.terms.part import NoWatch
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.store.opening import Store

FORMAT = "pollstead rebuild 1"
SAME, DIFFERENT, KEPT = "same", "different", "stopped early"
OTHER_ENGINES = "made by other versions"

app = cyclopts.App(name="rebuild", help=text(N_("Recompute what is kept and compare it.")))


@app.default
def rebuild(
    folder: Path,
    /,
    *,
    as_json: Annotated[
        bool, cyclopts.Parameter(name="--json", negative=(), help=text(N_("Print JSON.")))
    ] = False,
) -> int:
    """Recompute every plan version from what went in and say whether the bytes are the same.

    Nothing is written. Returns 1 where a version made by the same versions of the programs differs.
    """
    try:
        with store_of(folder) as store:
            results = [(digest, recompute(store, digest)) for digest in digests(store)]
    except Refused as refused:
        return tell(refused)
    if as_json:
        found: dict[str, Any] = {
            "format": FORMAT,
            "versions": [{"digest": digest, "result": result} for digest, result in results],
        }
        json.dump(found, sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        for number, (digest, result) in enumerate(results, start=1):
            print(
                fill(
                    message(
                        N_("Plan version {number}, {digest}: {result}"),
                        number=number,
                        digest=digest[:16],
                        result=text(result),
                    )
                )
            )
    return 1 if any(result == DIFFERENT for _, result in results) else 0


def recompute(store: Store, digest: str) -> str:
    """Whether a version computed again has the same bytes as the one that is kept."""
    from pollstead.election.canonical import canonical_bytes
    from pollstead.election.county import Election
    from pollstead.plan.compose import compose
    from pollstead.plan.terms.version import Decisions, Told
    from pollstead.store.trouble import ChangedInStore

    try:
        kept = version_of(store, digest)
    except ChangedInStore:
        # Named with its digest like any other, so that the versions after it are looked at too.
        return DIFFERENT
    if kept.stopped_early:
        return KEPT
    again = compose(
        msgspec.json.decode(store.snapshots.load(kept.snapshot), type=Election),
        kept.snapshot,
        msgspec.json.decode(store.snapshots.load(kept.decisions), type=Decisions),
        kept.seed,
        kept.effort,
        NoWatch(),
        kept.parent,
        told=msgspec.json.decode(store.snapshots.load(kept.told), type=Told),
        previous=version_of(store, kept.parent) if kept.parent else None,
        engines=kept.engines,
        workers=os.cpu_count() or 1,
    )
    if canonical_bytes(again) == store.plans.load(digest):
        return SAME
    return DIFFERENT if kept.engines == engines() else OTHER_ENGINES
