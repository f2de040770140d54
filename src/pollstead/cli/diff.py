"""``pollstead diff``: what changed between two plan versions. Thin: read, compare, print."""

from __future__ import annotations

import json
import sys
from itertools import groupby
from pathlib import Path
from typing import Annotated

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digest_named, store_of, tell, version_of
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

FORMAT = "pollstead diff 1"

app = cyclopts.App(name="diff", help=text(N_("Show what changed between two plan versions.")))


@app.default
def diff(
    folder: Path,
    before: str,
    after: str,
    /,
    *,
    site: Annotated[str, cyclopts.Parameter(help=text(N_("Only what changed at this site.")))] = "",
    as_json: AsJson = False,
) -> int:
    """Print in a few sentences what changed, then every cell that differs between two plan versions.

    Versions are named by number or by digest. Returns 0 whether or not anything differs; 1 where a version
    is not there.
    """
    from pollstead.plan.difference import compare
    from pollstead.plan.difference_words import by_site, summary

    try:
        with store_of(folder) as store:
            names = (digest_named(store, before), digest_named(store, after))
            versions = (version_of(store, names[0]), version_of(store, names[1]))
    except Refused as refused:
        return tell(refused)
    changes = compare(*versions)
    told = summary(*versions, changes)
    if site:
        changes = by_site(*versions, changes).get(site, ())
    if as_json:
        found = {
            "format": FORMAT,
            "before": names[0],
            "after": names[1],
            "summary": [sentence.english() for sentence in told],
            "site": site,
            "changes": [msgspec.to_builtins(change) for change in changes],
        }
        json.dump(found, sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    for sentence in told:
        print(fill(sentence))
    for table, group in groupby(changes, key=lambda change: change.table):
        rows = list(group)
        print(fill(message(N_("{table} ({count})"), table=text(table), count=len(rows))))
        for change in rows:
            print(f"  {fill(change.words)}")
    if site and not changes:
        print(fill(message(N_("Nothing differs at {site}."), site=site)))
    return 0
