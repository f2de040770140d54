"""Play the invented election of Larkmoor County, early days and election day, with planted troubles.

The play itself is that of `small/day/seed_day.py`; here stand the troubles of the forty sites. Keys, salts,
numbers and minutes are fixed. THE KEYS ARE DEMO KEYS, known to everyone; they sign nothing but this invented
county. `README.md` lists every planted trouble, `troubles.toml` what reconcile must say about each.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

from pollstead.election.station_type import Moment as When
from pollstead.plan.terms.version import ExpectedItem
from pollstead.reconcile.opening.matching import owner_of
from pollstead.record.kinds import days


def _shared_play() -> ModuleType:
    """The play of the small county, as a module of our own."""
    path = Path(__file__).resolve().parents[2] / "small" / "day" / "seed_day.py"
    spec = importlib.util.spec_from_file_location("larkmoor_play", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"expected the shared play at {path}, found nothing to load")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


shared = _shared_play()
shared.COORDINATOR, shared.WAREHOUSE = "P001", "P002"


class QuarryLineSchool(shared.AnselCivicHall):  # type: ignore[misc,name-defined]
    """S35: a digit mistyped and corrected, a spoiled ballot not written, a memory device not back."""


class SpindleHillSchool(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S20: a wrong cart was brought, so the last scanner is another site's."""

    def read_item(self, item: ExpectedItem, place: int) -> str:
        """The plate of the last scanner carries the serial of a scanner of S37."""
        true = str(super().read_item(item, place))
        if item.what == "serial" and owner_of(item) == self.scanners[-1]:
            other = next(d for d in self.election.devices if d.kind == "scanner" and d.home == "S37")
            return other.serial
        return true

    def before_doors(self) -> None:
        """By the county's rule that scanner stays out of service, the other goes on, the office is called."""
        body = days.DeviceOutOfService(state="out", why="serial_differs")
        self.write(body, self.scanners[-1], self.both())


class CedrowFlatsSchool(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S24: the doors open late, because the bus loop held the crew up."""

    def __init__(self, *given: object) -> None:
        super().__init__(*given)
        self.opened_at = self.opens + 25


class LimestoneFellowship(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S38: one provisional envelope is not in the bag."""

    def live(self) -> None:
        """An envelope stayed in the printer tray."""
        super().live()
        self.counts["provisional_envelopes"] -= 1


class CustomsQuayHall(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S07: a scanner's clock still shows summer time."""

    def device_minute(self, owner: str, lead: int, reference: int) -> int:
        """One hour ahead on the first device that has a clock."""
        right = int(super().device_minute(owner, lead, reference))
        first = next(
            owner_of(i) for i in self.expected.items if i.what == "clock" and i.moment is When.OPENING
        )
        return right + 60 if owner == first else right

    def before_doors(self) -> None:
        """That device stays out of service."""
        first = next(
            owner_of(i) for i in self.expected.items if i.what == "clock" and i.moment is When.OPENING
        )
        self.write(days.DeviceOutOfService(state="out", why="clock_differs"), first, self.both())


shared.PLAYS.clear()
shared.PLAYS.update(
    {
        "S02": shared.HarborLaneLibrary,
        "S07": CustomsQuayHall,
        "S20": SpindleHillSchool,
        "S24": CedrowFlatsSchool,
        "S35": QuarryLineSchool,
        "S36": shared.SouthgateLibrary,
        "S38": LimestoneFellowship,
    }
)

office_part = shared.office_part
packets_printed = shared.packets_printed
play = shared.play
