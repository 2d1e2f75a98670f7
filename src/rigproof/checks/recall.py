"""Rules about scenes: what a call-up may touch, and whether it was ever tried."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Scene
from rigproof.wording import listed, opening
from rigproof.wording.sentences import sentence

# What the ears and the hand-off hang on. Mutes, levels of one's own mix, effects and names do
# little harm in comparison. Common practice, no source.
TOUCHY = ("gain", "48 V", "patch", "ears")


def _title(scene: Scene) -> str:
    return sentence("the scene {scene}", scene=scene.name or scene.id)


def touches_ears(view: View) -> Iterator[Finding]:
    """A scene changes gain, 48 V, the patch or the ears, and nothing says that it is meant to.

    Why: fired between two songs it throws every ear mix back to a sound check of last month, pops
        48 V into open microphones, or takes all vocals away.
    Fix: take these parts out of the scene's recall; where it is meant, write why.
    Source: common practice, no source; taken from an account of a cue that killed the vocals.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes: [{id: ballad, name: Ballad, recalls: [effects, gain, ears]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes:
          - {id: ballad, name: Ballad, recalls: [effects, gain],
             why: the flute takes the fiddle's line}
    """
    for scene in view.rig.file.scenes:
        touched = [what for what in TOUCHY if what in scene.recalls]
        if touched and not scene.why:
            parts = listed(
                sentence(f"the {what}" if what in {"patch", "ears"} else what) for what in touched
            )
            yield Finding(
                at=scene.where.of("recalls"),
                says=sentence(
                    "{title} changes {parts}.", title=opening(_title(scene)), parts=parts
                ),
            )


def not_rehearsed(view: View) -> Iterator[Finding]:
    """A scene was never called up with the band playing.

    Why: what a recall really changes shows only when it is called up, and then all are listening.
    Fix: call up every scene at a rehearsal, in the order of the set and once out of it, and write
        the day as rehearsed.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes: [{id: ballad, name: Ballad, recalls: [effects]}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-24}]
        scenes: [{id: ballad, name: Ballad, recalls: [effects], rehearsed: 2027-04-11}]
    """
    for scene in view.rig.file.scenes:
        if not scene.rehearsed:
            yield Finding(
                at=scene.where,
                says=sentence(
                    "{title} was never called up in a rehearsal.", title=opening(_title(scene))
                ),
            )


RULES = (
    Rule(id="recall.touches-ears", severity="risk", check=touches_ears, since="0.1"),
    Rule(id="recall.not-rehearsed", severity="advice", check=not_rehearsed, since="0.1"),
)
