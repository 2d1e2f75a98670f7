"""Two rigs small enough to reckon on paper, with gear whose figures are typed here.

`SPLIT`: a voice, a passive split to two desks, a mixer, a headphone amplifier, earphones.
`FEED`: keys, a DI box, a transformer split, a stage box, a mixer, a personal mixer, earphones.
"""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from rigproof.checks.rule import View, look
from rigproof.rigfile.load import load

GEAR = """\
format: 1
types:
  - id: own-mic
    name: Microphone
    class: microphone
    figures: datasheet
    ports:
      - {id: out, way: out, connector: xlr-m, carries: mic, balanced: true, impedance_ohm: 300}
    inside: {stages: [{id: capsule, kind: capsule}], wires: [{from: capsule, to: out}]}
    microphone: {kind: dynamic, sensitivity_mv_pa: 2}
  - id: own-split
    name: Split
    class: splitter
    figures: datasheet
    ports:
      - {id: in, way: in, connector: xlr-f, carries: mic, balanced: true}
      - {id: a, way: out, connector: xlr-m, carries: mic, balanced: true}
      - {id: b, count: 4, way: out, connector: xlr-m, carries: mic, balanced: true}
    inside:
      wires:
        - {from: in, to: a}
        - {from: in, to: b.1}
        - {from: in, to: b.2}
        - {from: in, to: b.3}
        - {from: in, to: b.4}
  - id: own-desk
    name: Mixer
    class: mixer
    figures: datasheet
    power: {watts: 20}
    clock: {rates_hz: [48000]}
    ports:
      - {id: in, count: 2, way: in, connector: xlr-f, carries: mic, balanced: true,
         impedance_ohm: 3000, max_level_dbu: 20}
      - {id: out, count: 2, way: out, connector: xlr-m, carries: line, balanced: true,
         impedance_ohm: 75, max_level_dbu: 18, noise_dbu: -86, noise_weighting: a}
      - {id: link, way: both, connector: rj45-f, carries: link, lanes_rx: 2, lanes_tx: 0}
      - {id: feed, way: out, connector: rj45-f, carries: link, lanes: 4}
    inside:
      stages:
        - {id: pre, kind: preamp, count: 2, gain_min_db: 0, gain_max_db: 60, ein_dbu: -127,
           noise_weighting: flat}
        - {id: adc, kind: converter, count: 2, full_scale_dbu: 18, noise_dbu: -92,
           noise_weighting: a}
        - {id: ch, kind: channel, count: 4}
        - {id: bus, kind: bus, count: 2, pairs: true}
        - {id: dac, kind: converter, count: 2, full_scale_dbu: 18}
      wires:
        - {from: in, to: pre}
        - {from: pre, to: adc}
        - {from: dac, to: out, when_off: silent}
      choices:
        - {from: [adc, link.rx], to: ch}
        - {from: [ch], to: bus, adds: true}
        - {from: [bus], to: dac}
        - {from: [ch], to: feed}
  - id: own-amp
    name: Headphone amplifier
    class: headphone-amp
    figures: datasheet
    power: {watts: 5}
    ports:
      - {id: in, way: in, connector: jack-trs-f, lanes: 2, carries: line, balanced: false,
         impedance_ohm: 10000, max_level_dbu: 18}
      - {id: phones, count: 2, way: out, connector: jack-trs-f, lanes: 2, carries: phones,
         balanced: false, impedance_ohm: 10, max_level_dbu: 14, noise_uv: 6, noise_weighting: a}
    inside:
      stages: [{id: amp, kind: amplifier, count: 2, gain_min_db: -60, gain_max_db: 10}]
      wires:
        - {from: in, to: amp}
        - {from: amp, to: phones.1, when_off: silent}
        - {from: amp, to: phones.2, when_off: silent}
  - id: own-ears
    name: Earphones
    class: earphone
    figures: datasheet
    ports: [{id: plug, way: in, connector: jack-trs-m, lanes: 2, carries: phones}]
    inside: {stages: [{id: ear, kind: ear, count: 2}], wires: [{from: plug, to: ear}]}
    earphone: {sensitivity_db_mw: 105, impedance_ohm: 16, isolation_db: 25}
  - id: own-di
    name: DI box
    class: di
    figures: datasheet
    ports:
      - {id: in, way: in, connector: jack-ts-f, carries: instrument, balanced: false,
         impedance_ohm: 100000}
      - {id: thru, way: out, connector: jack-ts-f, carries: instrument, balanced: false}
      - {id: out, way: out, connector: xlr-m, carries: mic, balanced: true, impedance_ohm: 200}
    inside:
      stages: [{id: coil, kind: transformer, gain_db: -20}]
      wires: [{from: in, to: thru}, {from: in, to: coil}, {from: coil, to: out, isolated: true}]
  - id: own-iso
    name: Transformer split
    class: splitter
    figures: datasheet
    ports:
      - {id: in, way: in, connector: xlr-f, carries: mic, balanced: true}
      - {id: direct, way: out, connector: xlr-m, carries: mic, balanced: true}
      - {id: iso, way: out, connector: xlr-m, carries: mic, balanced: true}
    inside:
      stages: [{id: coil, kind: transformer, gain_db: -1}]
      wires:
        - {from: in, to: direct}
        - {from: in, to: coil}
        - {from: coil, to: iso, isolated: true}
  - id: own-box
    name: Stage box
    class: stage-box
    figures: datasheet
    power: {watts: 20}
    clock: {leads: false, rates_hz: [48000]}
    ports:
      - {id: in, count: 2, way: in, connector: xlr-f, carries: mic, balanced: true,
         impedance_ohm: 3000, max_level_dbu: 20}
      - {id: link, way: both, connector: rj45-f, carries: link, lanes_rx: 0, lanes_tx: 2}
    inside:
      stages:
        - {id: pre, kind: preamp, count: 2, gain_min_db: 0, gain_max_db: 60, ein_dbu: -130,
           noise_weighting: a}
        - {id: adc, kind: converter, count: 2, full_scale_dbu: 22, noise_dbu: -95,
           noise_weighting: flat}
      wires: [{from: in, to: pre}, {from: pre, to: adc}, {from: adc, to: link.tx}]
  - id: own-personal
    name: Personal mixer
    class: personal-mixer
    figures: datasheet
    power: {watts: 5}
    ports:
      - {id: feed, way: in, connector: rj45-f, lanes: 4, carries: link}
      - {id: phones, way: out, connector: jack-trs-f, lanes: 2, carries: phones, balanced: false,
         impedance_ohm: 33, max_level_dbu: 10, noise_uv: 12, noise_weighting: flat}
    inside:
      stages:
        - {id: slot, kind: slot, count: 4}
        - {id: mix, kind: sum, count: 2, pairs: true}
        - {id: dac, kind: converter, count: 2, full_scale_dbu: 8}
        - {id: amp, kind: amplifier, count: 2, gain_min_db: -60, gain_max_db: 4}
      wires:
        - {from: feed, to: slot}
        - {from: mix, to: dac}
        - {from: dac, to: amp}
        - {from: amp, to: phones, when_off: silent}
      choices: [{from: [slot], to: mix, adds: true}]
  - id: own-buds
    name: Earphones by the volt
    class: earphone
    figures: datasheet
    ports: [{id: plug, way: in, connector: jack-trs-m, lanes: 2, carries: phones}]
    inside: {stages: [{id: ear, kind: ear, count: 2}], wires: [{from: plug, to: ear}]}
    earphone: {sensitivity_db_v: 120, impedance_ohm: 32}
"""

SPLIT = """\
format: 1
rig: {name: Split, mixer: desk}
people: [{id: ana, name: Ana, ears: {plug: amp.phones.1, earphones: own-ears}}]
sources: [{id: voice, name: Voice, family: voices, mic: own-mic, spl_db: 106}]
gear:
  - {id: split, type: own-split}
  - {id: desk, type: own-desk}
  - {id: amp, type: own-amp}
leads:
  - {id: to-desk, type: lead-xlr, from: split.a, to: desk.in.1}
  - {id: to-house, type: lead-xlr, from: split.b.1, to: house.1}
  - {id: to-amp, type: y-xlr-2-jack-stereo, from: desk.out.1-2, to: amp.in}
patch: [{source: voice, plug: split.in, channel: 1, gain_db: 40}]
settings: [{at: amp.amp, gain_db: -10}]
mixes:
  - {id: ana, listeners: [ana], stereo: true, bus: 1-2, out: desk.out.1-2,
     sends: [{from: voice, level_db: -6}]}
"""

FEED = """\
format: 1
rig: {name: Feed, mixer: desk}
people: [{id: bo, name: Bo, ears: {plug: pm.phones, earphones: own-buds}}]
sources:
  - {id: keys, name: Keys, family: keys, di: own-di, connector: jack-ts-f, level_dbu: 2,
     impedance_ohm: 1000}
gear:
  - {id: split, type: own-iso}
  - {id: box, type: own-box}
  - {id: desk, type: own-desk}
  - {id: pm, type: own-personal}
leads:
  - {id: to-box, type: lead-xlr, from: split.direct, to: box.in.1}
  - {id: to-house, type: lead-xlr, from: split.iso, to: house.1}
  - {id: link, type: lead-network-plain, from: box.link, to: desk.link}
  - {id: feed, type: lead-network-plain, from: desk.feed, to: pm.feed}
patch: [{source: keys, plug: split.in, channel: 1, gain_db: 20}]
feeds: [{id: feed, port: desk.feed, slots: [{slot: 1, takes: [keys]}]}]
mixes: [{id: bo, listeners: [bo], stereo: true, on: pm, sends: [{slot: 1, level_db: -3}]}]
settings: [{at: pm.amp, gain_db: -12}]
"""


def seen(rig: str, gear: str = GEAR, change: Callable[[str], str] = str) -> View:
    """A rig of this module, its text changed on the way."""
    with TemporaryDirectory() as made:
        folder = Path(made)
        (folder / "gear").mkdir()
        (folder / "gear" / "own.yaml").write_text(gear, encoding="utf-8")
        (folder / "rig.yaml").write_text(change(rig), encoding="utf-8")
        return look(load(folder))
