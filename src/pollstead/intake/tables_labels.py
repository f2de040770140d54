"""The county's own label sheets, as geometry. May be left out: common sizes are built in."""

from __future__ import annotations

from pollstead.election.label_stock import LabelStock
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

TABLES_OF_LABELS: tuple[Table, ...] = (
    table_of(
        "label_stock",
        LabelStock,
        N_("Sheets of labels that this office uses, measured on the sheet itself."),
        {
            "id": N_("Short name of the sheet, such as shelf-labels"),
            "paper": N_("letter or a4"),
            "columns": N_("Labels across"),
            "rows": N_("Labels down"),
            "width_um": N_("Width of one label"),
            "height_um": N_("Height of one label"),
            "left_um": N_("From the left edge of the paper to the first label"),
            "top_um": N_("From the top edge of the paper to the first label"),
            "pitch_x_um": N_("From the left edge of one label to that of the next"),
            "pitch_y_um": N_("From the top edge of one label to that of the next"),
        },
        ids=("id",),
        owner=N_("equipment manager"),
    ),
)
