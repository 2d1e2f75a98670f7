"""Rules about ears that hang on a band which every telephone uses."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.wording import some
from rigproof.wording.sentences import sentence

# The band of Wi-Fi, Bluetooth and microwave ovens: ITU Radio Regulations, 5.150 (ISM), 2450 MHz
# +-50 MHz.
CROWDED_MHZ = (2400.0, 2500.0)


def ears_on_crowded_band(view: View) -> Iterator[Finding]:
    """A wireless link for sound works at 2.4 GHz.

    Why: it is perfect in the empty hall; with a thousand telephones in their seats it is gone, and
        no one can go and fetch them.
    Fix: take links made for stages, in a band that may be used where you play; keep a wired pack
        ready for tonight.
    Source: ITU Radio Regulations 5.150 (2400 to 2500 MHz is open to everything); that it fails when
        the seats fill is taken from an account.

    Fails:
        gear: [{id: tx, type: transmitter-ears}, {id: pack, type: pack-wireless}]
        radio: [{id: cue, from: tx.rf, to: pack.rf, frequency_mhz: 2440}]
    Passes:
        gear: [{id: tx, type: transmitter-ears}, {id: pack, type: pack-wireless}]
        radio: [{id: cue, from: tx.rf, to: pack.rf, frequency_mhz: 823.2}]
    """
    low, high = CROWDED_MHZ
    there = [
        link
        for link in view.rig.file.radio
        if link.frequency_mhz is not None and low <= link.frequency_mhz <= high
    ]
    if there:
        yield Finding(
            at=there[0].where.of("frequency_mhz"),
            says=sentence(
                "The {word} {names} {word2} at 2.4 GHz, where the telephones of the audience are.",
                word=sentence("link") if len(there) == 1 else sentence("links"),
                names=some(link.id for link in there),
                word2=sentence("works") if len(there) == 1 else sentence("work"),
            ),
        )


RULES = (
    Rule(id="radio.ears-on-crowded-band", severity="risk", check=ears_on_crowded_band, since="0.1"),
)
