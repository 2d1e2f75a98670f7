"""Rules about splits: how many inputs a microphone carries, and the volts left for it."""

from collections.abc import Iterator

from rigproof.checks.rule import Finding, Rule, View
from rigproof.physics.phantom48 import supply
from rigproof.rig.where import Where
from rigproof.signal.loading import DESKS, LoadedLine, fed_lines, least_v
from rigproof.signal.words import places
from rigproof.wording import counted, rounded, some
from rigproof.wording.sentences import joined, sentence

# Common practice, no source: microphones are made for 1 kilohm or more, and three desks, at times
# four, are given as the most for a passive split.
LIGHTEST_OHM = 1000.0
HALF_POWER_DB = 3.0  # common practice, no source: half the power


def _at(view: View, name: str) -> Where:
    row = view.rig.rows.get(name)
    return row.where if row is not None else view.rig.sources[name].where


def _names(view: View, lines: list[LoadedLine]) -> str:
    return some(view.rig.sources[line.source].name for line in lines)


def load_too_heavy(view: View) -> Iterator[Finding]:
    """Too many inputs hang on a microphone.

    Why: each desk loads the microphone further: it gets quieter, duller, and its noise nearer.
    Fix: an active split, or a transformer split with inputs of higher impedance; fewer desks.
    Source: common practice, no source: 1 kilohm in all, three to four desks on a passive split.

    Fails:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear:
          - {id: one, type: splitter-panel-8}
          - {id: two, type: splitter-panel-8}
          - {id: mixer, type: mixer-rack-16}
        patch: [{source: voice, plug: one.in.1}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: one.direct.1, to: mixer.in.1}
          - {id: on, type: lead-xlr, from: one.second.1, to: two.in.1}
          - {id: tail, type: lead-xlr, from: two.direct.1, to: house.1}
          - {id: truck, type: lead-xlr, from: two.second.1, to: house.2}
    Passes:
        sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]
        gear: [{id: one, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: voice, plug: one.in.1}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: one.direct.1, to: mixer.in.1}
          - {id: tail, type: lead-xlr, from: one.second.1, to: house.1}
    """
    heavy: dict[int, list[LoadedLine]] = {}
    for name, line in view.loads.items():
        source = view.rig.sources[name]
        load = line.load_ohm
        if source.mic is None or load is None or len(line.loads) < 2 or load >= LIGHTEST_OHM:
            continue
        heavy.setdefault(len(line.loads), []).append(line)
    for count, lines in heavy.items():
        worst = min(lines, key=lambda line: line.load_ohm or 0.0)
        assert worst.load_ohm is not None
        per_desk = joined(
            ", ",
            (
                sentence("{desks}: {loss_db}", desks=n, loss_db=rounded(loss))
                for n in DESKS
                if (loss := worst.with_desks_db(n)) is not None
            ),
        )
        yield Finding(
            at=_at(view, worst.source),
            says=sentence(
                "{inputs} hang on {names}, together {load_ohm:.0f} ohm: {places}. Loss "
                "in dB by the number of desks: {per_desk}.",
                inputs=counted(count, "input"),
                names=_names(view, lines),
                load_ohm=worst.load_ohm,
                places=places(view.rig, [key for key, _ in worst.loads]),
                per_desk=per_desk,
            ),
            found=float(worst.load_ohm),
            limit=LIGHTEST_OHM,
            unit="ohm",
        )


def loss(view: View) -> Iterator[Finding]:
    """A source loses half its power or more into what hangs on it.

    Why: what is lost there has to come from the preamps, with their noise.
    Fix: fewer inputs on it, a split with buffers, or a DI box or microphone of lower impedance.
    Source: voltage divider; that 3 dB are too many is common practice, no source.

    Fails:
        sources: [{id: pad, name: Pads, family: electronics, impedance_ohm: 1500, level_dbu: -10}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: pad, plug: mixer.in.1}]
    Passes:
        sources: [{id: pad, name: Pads, family: electronics, impedance_ohm: 150, level_dbu: -10}]
        gear: [{id: mixer, type: mixer-rack-16}]
        patch: [{source: pad, plug: mixer.in.1}]
    """
    for name, line in view.loads.items():
        lost = line.loss_db
        if lost is not None and lost < -HALF_POWER_DB:
            assert line.source_ohm is not None
            assert line.load_ohm is not None
            yield Finding(
                at=_at(view, name),
                says=sentence(
                    "{source} loses {lost} dB: its {source_ohm:.0f} ohm work into "
                    "{load_ohm:.0f} ohm, {places}.",
                    source=view.rig.sources[name].name,
                    lost=rounded(-lost),
                    source_ohm=line.source_ohm,
                    load_ohm=line.load_ohm,
                    places=places(view.rig, [key for key, _ in line.loads]),
                ),
                found=-lost,
                limit=HALF_POWER_DB,
                unit="dB",
            )


def volts_low(view: View) -> Iterator[Finding]:
    """48 V reaches a microphone with too few volts left.

    Why: where a second desk is wired straight to the microphone with its 48 V off, its resistors
        pull the line down to half; and what draws more than 10 mA gets too little from anybody.
        Some microphones then distort, some fall silent.
    Fix: give the second desk the isolated leg, or let it feed as well; for a microphone that draws
        too much, a supply of its own.
    Source: IEC 61938, P48: 44 to 52 V behind 6.8 kohm on each conductor, up to 10 mA. Desks that
        take their resistors off the line when 48 V is off do not pull it down.

    Fails:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}
        venues: [{id: club, name: Club, desk: {takes: tails, phantom: "off"}}]
    Passes:
        sources: [{id: hat, name: Hi-hat, family: drums, mic: mic-small-condenser}]
        gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
        patch: [{source: hat, plug: split.in.3, phantom: "on"}]
        leads:
          - {id: to-mixer, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
          - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
        venues: [{id: club, name: Club, desk: {takes: tails, phantom: "off"}}]
    """
    off = [v.name for v in view.venues if v.desk.phantom == "off"]
    pulled: list[tuple[float, float, str]] = []
    for fed in fed_lines(view.rig, view.lines):
        line = view.lines[fed.source]
        least = least_v(fed.needs_ma)
        if fed.needs_ma > supply("P48").limit_ma:
            yield Finding(
                at=_at(view, fed.source),
                says=sentence(
                    "{source} draws {needs_ma} mA from 48 V, more than any desk has to give.",
                    source=view.rig.sources[fed.source].name,
                    needs_ma=rounded(fed.needs_ma),
                ),
                found=float(fed.needs_ma),
                limit=float(supply("P48").limit_ma),
                unit="mA",
            )
        elif line.feeds and line.house and off:
            left = fed.volts["one feeder, the other's resistors at earth"]
            if left < least:
                pulled.append((left, least, fed.source))
    if pulled:
        left, least, name = min(pulled)
        yield Finding(
            at=_at(view, name),
            says=sentence(
                "With the 48 V of {names} off, {names2} may have only {left} V left: the "
                "resistors of that desk hang on the same line.",
                names=some(off),
                names2=some(view.rig.sources[n].name for _, _, n in pulled),
                left=rounded(left),
            ),
            found=left,
            limit=least,
            unit="V",
        )


RULES = (
    Rule(id="split.load-too-heavy", severity="risk", check=load_too_heavy, since="0.1"),
    Rule(id="split.loss", severity="advice", check=loss, since="0.1"),
    Rule(id="phantom.volts-low", severity="risk", check=volts_low, since="0.1"),
)
