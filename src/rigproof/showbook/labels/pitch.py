"""How far apart sockets stand: what the gear type states, else what is usual for the connector."""

from collections.abc import Mapping

import msgspec

from rigproof.physics.rackgrid import OPENING_WIDTH_MM
from rigproof.rig.geartype import Port, Stage

# From memory: rows of chassis parts in 19-inch panels. Sixteen XLR in one unit stand 26 to 28 mm
# apart, wider panels up to 30. Whoever cuts strips should hold a ruler to the box first.
USUAL_MM: Mapping[str, float] = {
    "xlr": 27, "xlr4": 27, "xlr5": 27, "combo": 27, "rj45-lock": 27, "speaker-twist": 27,
    "mains-twist": 32, "jack-ts": 18, "jack-trs": 18, "mini-ts": 14, "mini-trs": 14,
    "mini-trrs": 14, "rca": 14, "bnc": 18, "antenna": 18, "toslink": 16, "lc": 16, "rj45": 18,
    "usb-a": 20, "usb-b": 20, "usb-c": 16, "din5": 22, "db25": 60, "multipin": 70, "dc": 16,
    "iec-c13": 32, "iec-c14": 32, "iec-c19": 38, "iec-c20": 38, "iec-c7": 26, "iec-c8": 26,
    "iec-c5": 26, "iec-c6": 26, "cee-7": 48, "bs-1363": 52, "nema-5-15": 40,
}  # fmt: skip
_OTHER_MM = 20.0
# From memory too: the keys or knobs of a personal mixer.
_SLOT_MM = 20.0
_SLOT_ROW_MM = 200.0
LEAST_MM = 4.0  # no two sockets stand closer; a smaller figure is a slip of the file


class Spacing(msgspec.Struct, frozen=True):
    """The pitch, in how many rows, and where the pitch is from: empty where it is the usual."""

    pitch_mm: float
    rows: int
    provenance: str


def of_port(port: Port, *, wide_mm: float = OPENING_WIDTH_MM) -> Spacing:
    """How the sockets of a bank stand."""
    family, _, gender = port.connector.rpartition("-")
    usual_mm = USUAL_MM.get(family if gender in {"m", "f"} else port.connector)
    return _spacing(port, usual_mm or USUAL_MM.get(family, _OTHER_MM), wide_mm)


def of_stage(stage: Stage) -> Spacing | None:
    """How the faders, knobs or keys of a stage stand; slots are guessed, others must be stated."""
    if stage.kind != "slot" and not _stated(stage):
        return None
    return _spacing(stage, _SLOT_MM, _SLOT_ROW_MM if not _stated(stage) else 10_000)


def _stated(bank: Port | Stage) -> bool:
    return bank.pitch_mm is not None and bank.pitch_mm >= LEAST_MM


def _spacing(bank: Port | Stage, usual_mm: float, wide_mm: float) -> Spacing:
    pitch = bank.pitch_mm
    stated = pitch is not None and pitch >= LEAST_MM
    pitch_mm = float(pitch) if pitch is not None and stated else usual_mm
    rows = bank.rows or -(-round(bank.count * pitch_mm * 10) // round(wide_mm * 10))
    provenance = pitch.provenance if pitch is not None and stated else ""
    return Spacing(pitch_mm, max(1, min(rows, bank.count)), provenance)
