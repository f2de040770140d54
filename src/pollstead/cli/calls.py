"""``pollstead calls``: which calls were made, and who is still to be called in the present window. Thin."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, tell
from pollstead.cli.options import Day
from pollstead.cli.ready import list_at
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(name="calls", help=text(N_("Say which calls were made, and who is still to be called.")))


@app.default
def calls(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(name="--as-of", help=text(N_("Moment, such as 2028-11-06T18:00; blank is now."))),
    ] = "",
    day: Day = "",
) -> int:
    """Print people by id, never by name or phone: those still to call, then the calls that were made."""
    from pollstead.election.instants import Instant
    from pollstead.reconcile.readiness.heard import Calls
    from pollstead.reconcile.readiness.windows import WINDOW_WORDS

    try:
        election, folded, found, date = list_at(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    words = WINDOW_WORDS.get(found.window)
    now = text(words) if words else text(N_("The first call-back window has not begun."))
    print(f"{date.isoformat()}: {now}")
    print(fill(message(N_("{n} people are still to be called."), n=len(found.calls))))
    for call in found.calls:
        print(f"- {call.person} ({text(call.role)}): {', '.join(call.sites[:8])}")
    made = Calls(folded).all
    print(fill(message(N_("{n} answers of calls are written down."), n=len(made))))
    for heard in made:
        at = Instant(utc_ms=heard.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        print(f"- {at} {heard.person}: {heard.purpose}, {heard.result}")
    return 0
