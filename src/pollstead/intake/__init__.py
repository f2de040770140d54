"""From a county's folder, workbook or foreign tables to election values, and back."""

from pollstead.intake.export import write_folder
from pollstead.intake.folder import Intake, read_folder

__all__ = ["Intake", "read_folder", "write_folder"]
