"""Rules about the way to the mixer for whoever operates it: the tablet's Wi-Fi, and a wire."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.signal.words import box
from rigproof.wording.sentences import sentence


def crowded_band(view: View) -> Iterator[Finding]:
    """The control runs on 2.4 GHz.

    Why: empty at soundcheck, full of phones when the doors open; the mixer then answers nobody.
        A test in the empty room proves nothing.
    Fix: use 5 GHz or better, and keep a wire ready.
    Source: common practice, no source (several published accounts of lost control).

    Fails:
        gear: [{id: router, type: router-wifi}]
        control: {band: 2.4 GHz, access_point: router, wired_fallback: true}
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true}
    """
    control = view.rig.file.control
    if control is None:
        return
    if control.band == "2.4 GHz":
        yield Finding(
            at=control.where.of("band"),
            says=sentence("The control runs on 2.4 GHz, where the phones of the audience are."),
        )
    elif control.band is None and control.access_point is not None:
        yield Finding(
            at=control.where,
            severity="unknown",
            says=sentence("Nothing says on which band the control runs."),
            fix=sentence("State band under control: 5 GHz or 6 GHz, not 2.4."),
        )


def no_wire(view: View) -> Iterator[Finding]:
    """Nothing can be controlled when the Wi-Fi is gone.

    Why: the one thing that fails in front of a full house is the radio; then nobody can turn
        anything down.
    Fix: keep a lead and a device that plugs in, try it, and state wired_fallback: true.
    Source: common practice, no source.

    Fails:
        gear: [{id: router, type: router-wifi}]
        control: {band: 5 GHz, access_point: router, wired_fallback: false}
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true}
    """
    control = view.rig.file.control
    if control is None or control.wired_fallback:
        return
    if control.wired_fallback is None:
        yield Finding(
            at=control.where,
            severity="unknown",
            says=sentence("Nothing says whether the rig can be controlled over a wire."),
            fix=sentence("State wired_fallback under control."),
        )
    else:
        rest = (
            ""
            if control.works_without
            else sentence(", and the file does not say what works without it")
        )
        yield Finding(
            at=control.where.of("wired_fallback"),
            says=sentence(
                "There is no wire for the control when the Wi-Fi is gone{rest}.", rest=rest
            ),
        )


def built_in_hot_spot(view: View) -> Iterator[Finding]:
    """The control hangs on the hot-spot built into an audio box.

    Why: the radio of a mixer sits in a metal case at the bottom of a rack; it is known to give up
        in the middle of a show.
    Fix: use a router or access point of its own, with its antennas out of the case.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-24}]
        control: {band: 5 GHz, access_point: mixer, wired_fallback: true}
    Passes:
        gear: [{id: router, type: router-wifi}]
        control: {band: 5 GHz, access_point: router, wired_fallback: true}
    """
    control = view.rig.file.control
    if control is None or control.access_point not in view.rig.gear:
        return
    assert control.access_point is not None
    if view.rig.type_of(control.access_point).class_ not in {"router", "access-point"}:
        name = box(view.rig, control.access_point)
        yield Finding(
            at=control.where.of("access_point"),
            says=sentence("The control hangs on the radio built into {name}.", name=name),
        )


RULES = (
    Rule(id="control.crowded-band", severity="risk", check=crowded_band, since="0.1"),
    Rule(id="control.no-wire", severity="risk", check=no_wire, since="0.1"),
    Rule(id="control.built-in-hot-spot", severity="risk", check=built_in_hot_spot, since="0.1"),
)
