"""Labels at true scale: strips, panel legends, flags for both ends of every lead, cards.

What stands on a label (`content`) is found apart from how it is drawn and on which sheet, so that
two versions of a rig can be compared and only what changed is printed again.
"""

from rigproof.showbook.labels.binding import (
    LabelSheets,
    Sheets,
    begin_labels,
    calibration,
    labels_pdf,
)
from rigproof.showbook.labels.content import KINDS, Asked, Card, Flag, Kind, Label, Strip
from rigproof.showbook.labels.every import every_label
from rigproof.showbook.labels.reprint import Reprint, reprint
from rigproof.showbook.labels.stock import PRESETS, Stock, StockError, plain_sheets, stock

__all__ = [
    "KINDS",
    "PRESETS",
    "Asked",
    "Card",
    "Flag",
    "Kind",
    "Label",
    "LabelSheets",
    "Reprint",
    "Sheets",
    "Stock",
    "StockError",
    "Strip",
    "begin_labels",
    "calibration",
    "every_label",
    "labels_pdf",
    "plain_sheets",
    "reprint",
    "stock",
]
