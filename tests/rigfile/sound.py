"""A small sound rig with its own gear types, in the mixed styles people write."""

from pathlib import Path

from rigproof.rig import Rig
from rigproof.rigfile import library, load

GEAR = """\
# What we own.
format: 1
types:
  - id: small-mixer
    name: Mixer, 16 in
    class: mixer
    figures: datasheet
    size: {units: 3, depth_mm: 210}
    weight_kg: 5.1
    power: {inlet: iec-c14, watts: 45}
    clock: {rates_hz: [48000]}
    ports:
      - {id: in, count: 16, way: in, connector: combo-f, carries: mic, phantom: per-input}
      - {id: out, count: 8, way: out, connector: xlr-m, carries: line}
      - id: link
        way: both
        lanes_rx: 48
        lanes_tx: 48
        connector: rj45-lock-f
        carries: link
    inside:
      stages:
        - {id: pre, kind: preamp, count: 16}
        - {id: adc, kind: converter, count: 16}
        - {id: ch, kind: channel, count: 32}
        - {id: bus, kind: bus, count: 8, pairs: true}
        - {id: dac, kind: converter, count: 8}
      wires:
        - {from: in, to: pre}
        - {from: pre, to: adc, gain_db: {value: 30, from: measured, date: "2026-01-02"}}
        - {from: dac, to: out}
      choices:
        - {from: [adc, link.rx], to: ch, block: 8}
        - {from: [ch], to: bus, adds: true}
        - {from: [bus, ch], to: dac}
        - {from: [adc], to: link.tx}
  - id: vocal-mic
    name: Singer's microphone
    class: microphone
    ports:
      - {id: out, way: out, connector: xlr-m, carries: mic, phantom_need: tolerates}
    inside:
      stages: [{id: capsule, kind: capsule}]
      wires: [{from: capsule, to: out}]
    microphone: {kind: dynamic, sensitivity_mv_pa: 2.5}
  - id: plugs
    name: Earphones
    class: earphone
    earphone: {impedance_ohm: 32, sensitivity_db_v: 118}
  - id: mic-lead
    name: Microphone lead
    class: lead
    lead: {a: {connector: xlr-f}, b: {connector: xlr-m}, stock_m: [3, 5, 10]}
"""

RIG = """\
# The rig of a band that does not exist.
format: 1

rig:
  name: "Tin Lantern"   # as on the poster
  mixer: desk
  note: |
    Two lines of text,
    the second here.

people:
  - id: ann
    name: 'Ann'
    part: voices
    at_m: [0, 1.5]
    ears: {plug: desk.out.1, earphones: plugs}

  # Bo came in spring.
  - id: bo
    name: Bó Ørsted
    leads_band: true   # talks to all
  - {id: cy, name: 小林, part: drums}

sources:
  - {id: voice-ann, name: Ann, family: voices, player: ann, mic: vocal-mic}
  - {id: voice-bo,  name: "Bo: lead", family: voices, player: bo, mic: vocal-mic}   # left side
  - id: kick-in
    name: Kick in
    family: drums
    player: cy
    level_dbu: {value: -12, from: measured}
  - {id: click, name: Click, family: click}

groups:
  - id: voices
    sources: [voice-ann, voice-bo]

gear:
  - id: desk
    type: small-mixer
    unit: 2

leads:
  - {id: lead-1, type: mic-lead, from: desk.out.2, to: house.1, length_m: 5}

patch:
# by channel
- {source: voice-ann, plug: desk.in.1, channel: 1}
- source: voice-bo
  plug: desk.in.2
  channel: 2
- source: kick-in
  plug: desk.in.3   # right at the back
  channel: 3
  phantom: on

mixes:
  - id: ann
    listeners: [ann]
    bus: 1-2
    sends:
      - {from: voice-ann, level_db: 0}
      - {from: voices, level_db: -6}

      - from: kick-in
        level_db: -10
  - {id: bo, listeners: [bo, cy], bus: 3, sends: [{from: voice-bo}, {from: click, level_db: -3}]}

power: {volts_v: 230, frequency_hz: 50}

venues:
  - id: barn
    name: The Barn
    desk: {takes: tails, order: [kick-in, voice-ann]}

shows:
  - id: spring
    date: "2026-04-01"
    venue: barn
    without: [bo, click]
    sources: [{id: guest-horn, name: Horn, family: brass}]
    mixes:
      - {id: ann, listeners: [ann], bus: 1, sends: [{from: guest-horn}, {from: kick-in}]}
"""


def rig_folder(folder: Path, text: str = RIG) -> Path:
    """The rig as a folder on disk."""
    (folder / "gear").mkdir(parents=True)
    (folder / "gear" / "own.yaml").write_bytes(GEAR.encode())
    (folder / "rig.yaml").write_bytes(text.encode())
    return folder


def read(text: str, folder: Path) -> Rig:
    """A rig text with the gear types of a folder; every fault raised."""
    types, faults = library.own_types(folder)
    return load.parse(text.encode(), "rig.yaml", types, faults)
