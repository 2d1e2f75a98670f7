"""Which computers play: tracks, click and cues come out of them, or of an interface on them."""

from rigproof.checks.rule import View

PLAYED = frozenset({"playback", "click", "cue"})


def players(view: View) -> frozenset[str]:
    """The computers of the rig that tracks, click or cues come from."""
    rig = view.rig
    starts = {s.start.gear for s in rig.file.sources if s.family in PLAYED and s.start is not None}
    computers = {g.id for g in rig.file.gear if rig.types[g.type].class_ == "computer"}
    behind = {
        view.cables.beyond(link, gear).gear
        for gear in starts
        for link in view.cables.at.get(gear, ())
    }
    return frozenset(computers & (starts | behind))
