"""What keeps a rig going from show to show: tests, copies of settings, what is used up, the log."""

from typing import Annotated

from msgspec import Meta

from rigproof.rig.entry import Entry, GearName, Text


class FirmwareTested(Entry, frozen=True, kw_only=True):
    """One box of a set that was tested together, and the firmware it had then."""

    gear: GearName
    version: Annotated[str, Meta(min_length=1, max_length=200)]


class Tested(Entry, frozen=True, kw_only=True):
    """The last time everything was set up and tried together, line by line."""

    date: Text
    by: Text = ""
    firmware: tuple[FirmwareTested, ...] = ()
    frozen_from: Text = ""  # from this day on nobody puts in other firmware
    note: Text = ""


class Backup(Entry, frozen=True, kw_only=True):
    """A copy of the settings of one box, kept somewhere else."""

    of: GearName
    on: GearName | None = None  # another box of the rig that keeps it
    kept: Text = ""  # or where else it is: a stick in the bag, somebody's drive
    date: Text = ""
    restored: Text = ""  # the day it was last put back for a trial
    note: Text = ""


class Consumable(Entry, frozen=True, kw_only=True):
    """Batteries, tape, filters: what travels and is used up."""

    what: Annotated[str, Meta(min_length=1, max_length=200)]
    feeds: tuple[GearName, ...] = ()  # the boxes that run on it
    count: Annotated[int, Meta(ge=0, le=9999)]
    per_show: Annotated[int, Meta(ge=0, le=9999)] | None = None
    note: Text = ""


class LogEntry(Entry, frozen=True, kw_only=True):
    """What was looked at, found or done on one day."""

    date: Text
    gear: GearName | None = None
    what: Text = ""  # anything that is no box: the power leads, a label
    fault: Text = ""
    mended: Text = ""  # the day it was
    done: Text = ""
    next: Text = ""  # the day by which it is to be looked at again
    note: Text = ""
