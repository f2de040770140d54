"""Options that many commands take, in the same words everywhere."""

from __future__ import annotations

from typing import Annotated

import cyclopts

from pollstead.election.words import N_
from pollstead.show.words import text

AsJson = Annotated[bool, cyclopts.Parameter(name="--json", negative=(), help=text(N_("Print JSON.")))]
Day = Annotated[str, cyclopts.Parameter(help=text(N_("Operating day, such as 2028-11-07.")))]
