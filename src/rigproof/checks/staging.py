"""Rules about the room on stage: does the plan go on the stage of each venue."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Venue
from rigproof.wording import listed
from rigproof.wording.sentences import sentence

_NEAR_M = 0.05  # what nobody measures on a stage


def stage_too_small(view: View) -> Iterator[Finding]:
    """People, a riser or the case stand beyond the edge of a venue's stage.

    Why: the plan that everybody has in hand cannot be set up, and a new one is made at load-in; the
        riser that reaches over the edge is a fall.
    Fix: draw them together in the plan, leave the riser at home, or ask the house for more stage.
        Where the case stands elsewhere at this venue, say so with its case_at_m.
    Source: common practice, no source: x from the middle, y from the front edge.

    Fails:
        people: [{id: ann, name: Ann, at_m: [2.8, 1.0]}]
        venues: [{id: bar, name: The bar, stage_m: [5, 3], desk: {takes: nothing}}]
    Passes:
        people: [{id: ann, name: Ann, at_m: [2.2, 1.0]}]
        venues: [{id: bar, name: The bar, stage_m: [5, 3], desk: {takes: nothing}}]
    """
    for venue in view.venues:
        if venue.stage_m is None:
            continue
        off = {name: over for name, over in _reaches(view, venue) if over > _NEAR_M}
        if off:
            wide, deep = (float(side) for side in venue.stage_m)
            worst = max(off.values())
            verb = sentence("stands") if len(off) == 1 else sentence("stand")
            yield Finding(
                at=venue.where.of("stage_m"),
                says=sentence(
                    "{names} {verb} beyond the stage of {venue}, which is {wide_m:g} by "
                    "{deep_m:g} m: by up to {worst_m:.1f} m.",
                    names=listed(off),
                    verb=verb,
                    venue=venue.name,
                    wide_m=wide,
                    deep_m=deep,
                    worst_m=worst,
                ),
                found=worst,
                limit=0,
                unit="m",
            )


def _reaches(view: View, venue: Venue) -> Iterator[tuple[str, float]]:
    """Everybody and everything with a place, and how far beyond the edge it reaches."""
    assert venue.stage_m is not None
    half, depth = float(venue.stage_m[0]) / 2, float(venue.stage_m[1])

    def beyond(x: float, y: float, wide: float = 0.0, deep: float = 0.0) -> float:
        return max(abs(x) + wide / 2 - half, y + deep / 2 - depth, deep / 2 - y)

    for person in view.rig.file.people:
        if person.at_m is None:
            continue
        x, y = (float(one) for one in person.at_m)
        yield person.name, beyond(x, y)
        if person.riser_m is not None:
            wide, deep = (float(one) for one in person.riser_m)
            yield sentence("{person}'s riser", person=person.name), beyond(x, y, wide, deep)
    case = view.rig.file.case
    at_m = venue.case_at_m or (case.at_m if case else None)
    if at_m is not None:
        yield sentence("the case"), beyond(*(float(one) for one in at_m))


RULES = (Rule(id="stage.too-small", severity="risk", check=stage_too_small, since="0.1"),)
