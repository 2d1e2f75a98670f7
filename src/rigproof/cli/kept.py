"""Keeping what was measured beside its rig, and telling what has moved since."""

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.answer import CannotRun, Fault
from rigproof.cli.terminal import Part, Row

if TYPE_CHECKING:
    from rigproof.cli.prove import Plan
    from rigproof.linecheck.drifting import Called, Drift
    from rigproof.rig import Kept
    from rigproof.signal.readings import LineWay


def keeping(parser: ArgumentParser) -> None:
    """How a command is told to keep what it measured."""
    parser.add_argument(
        "--keep",
        action="store_true",
        help="keep the figures in measured/ beside the rig, where they replace assumed ones (not "
        "those of tails) and later ones are held against them",
    )
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="when it was measured; today otherwise"
    )


def refuse_keeping(asked: Namespace) -> None:
    """Refuse what cannot be kept before anything is read or played."""
    if asked.keep and asked.rig is None:
        raise CannotRun(
            Fault("figures are kept beside their rig, and no rig is named.", "Add: --rig RIG")
        )
    if asked.date is not None:
        try:
            plain = date.fromisoformat(asked.date).isoformat() == asked.date
        except ValueError:
            plain = False
        if not plain:  # it becomes the name of a file, in which dates sort as text
            raise CannotRun(
                Fault(f'"{asked.date[:40]}" is no date.', "For example: --date 2027-03-01")
            )


def day_of(asked: Namespace) -> str:
    """The day that was measured."""
    return str(asked.date or date.today().isoformat())


def ways_of(plan: "Plan") -> "tuple[LineWay, ...]":
    """The lines of the rig, where one is named."""
    from rigproof.signal.readings import line_ways

    return tuple(line_ways(plan.view.figures)) if plan.view is not None else ()


def called_in(plan: "Plan") -> "Mapping[int, Called]":
    """What the lines are called, where a rig is named."""
    from rigproof.linecheck.drifting import called

    if plan.view is None:
        return {}
    return called(plan.view.rig, plan.view.graph, ways_of(plan))


def kept_by(asked: Namespace, plan: "Plan", kept: "Kept") -> "Iterator[Path]":
    """Keep a measurement beside its rig, where that was asked for."""
    from rigproof.rigfile.write import keep_measured

    if asked.keep and plan.rig_file is not None:
        yield keep_measured(plan.rig_file.parent, kept)


def drift_data(moved: "Sequence[Drift]") -> list[dict[str, Any]]:
    """What has moved, for programs."""
    return [
        {
            "channel": one.channel,
            "others": list(one.others),
            "matter": one.matter,
            "grade": one.grade,
            "before": one.before,
            "now": one.now,
            "unit": one.unit,
            "limit": one.limit,
            "since": one.since,
            "suspect": one.suspect,
            "leads": list(map(str, one.passes)),
            "says": str(one.says),
        }
        for one in moved
    ]


def drift_rows(moved: "Sequence[Drift]") -> Iterator[Part]:
    """What has moved, for people."""
    yield Row("Since it was last kept:" if moved else "Nothing has moved since it was kept.")
    for one in moved:
        yield Row(one.says, lead=f"{one.grade.upper()}  ", lead_tone="strong")
