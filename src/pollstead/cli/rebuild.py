"""``pollstead rebuild``: recompute every plan version and compare it with the one kept, byte by byte."""

from __future__ import annotations

import functools
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digests, engines, store_of, tell, version_of
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.plan.terms.part import NoWatch
from pollstead.show.words import fill, text
from pollstead.work.keeping import ComparedKeeping

if TYPE_CHECKING:
    from pollstead.plan.terms.keeping import Keeping
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
    as_json: AsJson = False,
) -> int:
    """Recompute every plan version from what went in and say whether the bytes are the same.

    Nothing is written. Returns 1 where a version made by the same versions of the programs differs.
    """
    try:
        with store_of(folder) as store:
            keeping = ComparedKeeping(store)
            results = [(digest, recompute(store, digest, keeping)) for digest in digests(store)]
    except Refused as refused:
        return tell(refused)
    if as_json:
        found: dict[str, Any] = {
            "format": FORMAT,
            "versions": [{"digest": digest, "result": result} for digest, result in results],
            "kept_results": {"same": keeping.same, "different": len(keeping.different)},
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
        if keeping.different:
            print(
                fill(
                    message(
                        N_("{count} kept results of sites are not what is computed now. Plan again."),
                        count=len(keeping.different),
                    )
                )
            )
    return 1 if keeping.different or any(result == DIFFERENT for _, result in results) else 0


def recompute(store: Store, digest: str, keeping: Keeping | None = None) -> str:
    """Whether a version computed again has the same bytes as the one that is kept.

    Nothing is taken from `keeping`; it is handed each site's result, to be compared.
    """
    from pollstead.election.canonical import canonical_bytes
    from pollstead.election.county import Election
    from pollstead.plan.compose import compose
    from pollstead.plan.lines.run import run as run_lines
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
        lines_run=functools.partial(run_lines, keeping=keeping),
    )
    if canonical_bytes(again) == store.plans.load(digest):
        return SAME
    return DIFFERENT if kept.engines == engines() else OTHER_ENGINES
