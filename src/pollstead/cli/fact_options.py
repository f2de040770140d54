"""Options that the commands about facts share."""

from __future__ import annotations

from typing import Annotated

import cyclopts

from pollstead.election.words import N_
from pollstead.show.words import text

By = Annotated[
    str,
    cyclopts.Parameter(name="--by", help=text(N_("Id of the person who does this, for the record."))),
]
Why = Annotated[
    str, cyclopts.Parameter(name="--reason", help=text(N_("Why, in a sentence, for the record.")))
]
