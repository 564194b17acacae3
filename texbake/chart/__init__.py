"""What `texbake panels` shows: the panels as a table, as JSON, and as a picture of the UVs."""

from texbake.chart.picture import picture, write_picture
from texbake.chart.rows import PanelRow, Sewn, panel_rows
from texbake.chart.table import as_json, table

__all__ = [
    "PanelRow",
    "Sewn",
    "as_json",
    "panel_rows",
    "picture",
    "table",
    "write_picture",
]
