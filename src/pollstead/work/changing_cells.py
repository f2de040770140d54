"""What several acts share: the edit of one cell, the plan that must be there, a device as people call it."""

from __future__ import annotations

from pollstead.election.county import Device
from pollstead.election.words import N_
from pollstead.intake.fact_edits import Edit, set_cell
from pollstead.plan.terms.version import PlanVersion
from pollstead.work.changing_terms import Ground
from pollstead.work.county_folder import refuse


def cell_edit(ground: Ground, table: str, row: str, column: str, text: str) -> Edit | None:
    """The edit of one cell; None where it says so already."""
    before = ground.cell(table, row, column)
    return None if before == text else set_cell(table, row, column, text, before=before)


def real_edits(edits: list[Edit | None]) -> tuple[Edit, ...]:
    """The edits that change something."""
    return tuple(edit for edit in edits if edit is not None)


def plan_of(ground: Ground) -> PlanVersion:
    """The plan that holds; refuses where there is none."""
    if ground.plan is None:
        refuse(N_("There is no plan version yet. Make one by: pollstead plan FOLDER"))
    return ground.plan


def shown(device: Device) -> str:
    """A device by serial and tag."""
    return f"{device.serial} ({device.tag})" if device.tag else device.serial
