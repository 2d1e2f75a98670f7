"""Rules about where knobs and switches stand when the lid opens."""

from collections.abc import Iterator

from rigproof.checks.playing import players
from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import box
from rigproof.wording import listed, some
from rigproof.wording.sentences import sentence


def not_written(view: View) -> Iterator[Finding]:
    """Nobody wrote where the knobs and switches of a box stand at the start of a show.

    Why: a level knob was knocked to its stop in the van, and all ears hiss; a mode switch moved,
        and the mixer is gone from the tablet half a minute after the set began.
    Fix: write home for the box ("knobs at their marks", "mode switch to the left"), or each knob
        under settings; mark them with tape, and look at them when the lid opens.
    Source: common practice, no source; what can be moved is the gear type's knobs.

    Fails:
        gear: [{id: router, name: Router, type: router-wifi}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    Passes:
        gear: [{id: router, name: Router, type: router-wifi, home: mode switch to the left}]
        venues: [{id: hall, name: Hall, desk: {takes: nothing}}]
        shows: [{id: may, date: 2027-05-08, venue: hall}]
    """
    rig = view.rig
    if not rig.file.shows:
        return
    written = {setting.at.gear for setting in rig.file.settings}
    open_ = [
        gear
        for gear in rig.file.gear
        if gear.owner == "band"
        and rig.types[gear.type].knobs
        and not gear.home
        and gear.id not in written
    ]
    if open_:
        names = some(
            sentence(
                "{box} ({knobs})",
                box=box(rig, gear.id),
                knobs=listed(rig.types[gear.type].knobs),
            )
            for gear in open_
        )
        yield Finding(
            at=open_[0].where,
            says=sentence("Nobody wrote where these stand: {names}.", names=names),
        )


def player_not_quiet(view: View) -> Iterator[Finding]:
    """Nothing says how the computer that plays is kept quiet.

    Why: an update, a message or a screen that goes to sleep stops tracks and click in a song.
    Fix: write home for it: flight mode on, messages and updates off, sleep off, charger in; tick it
        at every line check.
    Source: common practice, no source; from memory.

    Fails:
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: playback, type: interface-8x8}
          - {id: laptop, name: Laptop, type: laptop}
        leads: [{id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: playback.usb}]
    Passes:
        sources: [{id: click, name: Click, family: click, from: playback.out.1}]
        gear:
          - {id: playback, type: interface-8x8}
          - {id: laptop, name: Laptop, type: laptop, home: "flight mode on, sleep off"}
        leads: [{id: usb, type: lead-usb-c-c, from: laptop.usb.1, to: playback.usb}]
    """
    for name in sorted(players(view)):
        gear = view.rig.gear[name]
        if not gear.home:
            yield Finding(
                at=gear.where,
                says=sentence(
                    "{box} plays in the show, and nothing says how updates, messages and "
                    "sleep are kept off.",
                    box=box(view.rig, name),
                ),
            )


RULES = (
    Rule(id="home.not-written", severity="advice", check=not_written, since="0.1"),
    Rule(id="home.player-not-quiet", severity="advice", check=player_not_quiet, since="0.1"),
)
