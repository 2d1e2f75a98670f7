"""Broken tails by somebody else's hand: circuits as boxes have them, solved by ngspice.

`physics.tails` draws every line as one small circuit. Here outputs, inputs and cables are drawn
as they are built: coupled windings, output stages and differential inputs around amplifiers of
finite gain, coupling capacitors, filters against radio, a cable in sections. Values are dealt by
chance within what data sheets of several makers state (from memory). The general-purpose solver
ngspice does the sums; it is not needed for anything else (apt install ngspice).
"""

import math
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Dice = np.random.Generator
Spectrum = NDArray[np.complex128]
# Each ends at the nodes hot and cold, or begins at far_hot and far_cold.
Part = Callable[[Dice], list[str]]

_SECTIONS = 4
_OPEN_OHM = 1e12
_JOINT_OHM = 0.05


class Torn(NamedTuple):
    """What is wrong where the cable is cut in two: in its legs, between them, to the shield."""

    pin2_ohm: float = _JOINT_OHM
    pin3_ohm: float = _JOINT_OHM
    across_ohm: float = _OPEN_OHM
    pin3_shield_ohm: float = _OPEN_OHM


class Tail(NamedTuple):
    """Both ends of a tail and its cable before and behind the place of a fault."""

    sender: tuple[str, ...]
    receiver: tuple[str, ...]
    before: tuple[str, ...]
    behind: tuple[str, ...]


# ---- outputs: the signal is the voltage of the node `sig` ------------------------------------


def driven(dice: Dice) -> list[str]:
    """Two amplifiers, one for each leg, behind resistors and capacitors."""
    ohm, farad = dice.uniform(22, 100), dice.uniform(47e-6, 220e-6)
    return [
        "Eh h1 0 sig 0 0.5",
        "Ec c1 0 sig 0 -0.5",
        f"Chh h1 h2 {farad}",
        f"Ccc c1 c2 {farad}",
        "Rbh h2 0 22k",
        "Rbc c2 0 22k",
        f"Rh h2 hot {ohm}",
        f"Rc c2 cold {ohm}",
        "Cfh hot 0 470p",
        "Cfc cold 0 470p",
    ]


def servo(dice: Dice) -> list[str]:
    """A cross-coupled output: it floats, as far as its resistors to ground let it."""
    ohm, ground = dice.uniform(22, 50), dice.uniform(3e3, 20e3)
    return [
        "Es h1 c1 sig 0 1",
        f"Rh h1 hot {ohm}",
        f"Rc c1 cold {ohm}",
        f"Rgh hot 0 {ground}",
        f"Rgc cold 0 {ground}",
    ]


def isolated(dice: Dice) -> list[str]:
    """The secondary of a split transformer that nothing ties to ground."""
    henry, winding = dice.uniform(5, 20), dice.uniform(50e-12, 300e-12)
    return [
        "Ep p0 0 sig 0 1",
        f"Rp p0 p1 {dice.uniform(50, 200)}",
        f"Lp p1 0 {henry}",
        f"Ls s1 cold {henry}",
        f"K1 Lp Ls {1 - dice.uniform(2e-5, 2e-4)}",
        f"Rs s1 hot {dice.uniform(20, 80)}",
        f"Cwh hot 0 {winding}",
        f"Cwc cold 0 {winding}",
    ]


def direct(dice: Dice) -> list[str]:
    """A microphone, and our own preamp with its 48 V resistors beside the tail."""
    return [
        "Em h1 c1 sig 0 1",
        f"Rh h1 hot {dice.uniform(50, 100)}",
        f"Rc c1 cold {dice.uniform(50, 100)}",
        "Cmh hot 0 100p",
        "Cmc cold 0 100p",
        *_preamp("hot", "cold", "o", dice),
    ]


def _preamp(hot: str, cold: str, tag: str, dice: Dice) -> list[str]:
    """A microphone input behind its capacitors; what it takes is between {tag}h and {tag}c."""
    bias = dice.uniform(2e3, 10e3)
    return [
        f"R{tag}v2 {hot} 0 6.81k",
        f"R{tag}v3 {cold} 0 6.81k",
        f"C{tag}c2 {hot} {tag}h {dice.uniform(22e-6, 100e-6)}",
        f"C{tag}c3 {cold} {tag}c {dice.uniform(22e-6, 100e-6)}",
        f"R{tag}b2 {tag}h 0 {bias}",
        f"R{tag}b3 {tag}c 0 {bias}",
        f"C{tag}f2 {tag}h 0 470p",
        f"C{tag}f3 {tag}c 0 470p",
        f"R{tag}x {tag}h {tag}c {dice.uniform(4e3, 30e3)}",
    ]


# ---- inputs: what they make of it is between the nodes `out` and `ref` -----------------------


def mic_in(dice: Dice) -> list[str]:
    """A microphone input with 48 V resistors, switched off."""
    return [*_preamp("far_hot", "far_cold", "i", dice), "Eo out ref ih ic 1", "Ro ref 0 1"]


def line_in(dice: Dice) -> list[str]:
    """A line input with a follower for each leg."""
    ohm = dice.uniform(5e3, 25e3)
    return [
        f"Rl2 far_hot 0 {ohm}",
        f"Rl3 far_cold 0 {ohm}",
        "Cl2 far_hot 0 220p",
        "Cl3 far_cold 0 220p",
        "Eo out ref far_hot far_cold 1",
        "Ro ref 0 1",
    ]


def four_resistors(dice: Dice) -> list[str]:
    """One amplifier and four resistors: its legs are not alike."""
    ohm = dice.uniform(10e3, 25e3)
    return [
        f"R1 far_hot plus {ohm}",
        f"R2 plus 0 {ohm}",
        f"R3 far_cold minus {ohm}",
        f"R4 minus out {ohm}",
        "Ea slow 0 plus minus 1e5",  # a million hertz of gain and width, from memory
        "Ra slow pole 1k",
        "Ca pole 0 15.9u",
        "Eo out ref pole 0 1",
        "Ro ref 0 1m",
    ]


def transformer_in(dice: Dice) -> list[str]:
    """A line transformer whose primary floats."""
    henry, winding = dice.uniform(20, 80), dice.uniform(50e-12, 300e-12)
    return [
        f"Ri far_hot w1 {dice.uniform(100, 600)}",
        f"Li w1 far_cold {henry}",
        f"Lo w2 ref {henry}",
        "K2 Li Lo 0.9999",
        f"Rw w2 out {dice.uniform(100, 600)}",
        "Rq out ref 10k",
        "Ro ref 0 1",
        f"Cv2 far_hot 0 {winding}",
        f"Cv3 far_cold 0 {winding}",
    ]


SENDERS: dict[str, Part] = {
    "two amplifiers": driven,
    "cross-coupled": servo,
    "isolated winding": isolated,
    "direct split": direct,
}
RECEIVERS: dict[str, Part] = {
    "microphone input": mic_in,
    "line input, two followers": line_in,
    "line input, four resistors": four_resistors,
    "line transformer": transformer_in,
}


def dealt(sender: str, receiver: str, dice: Dice, *, torn_at: str) -> Tail:
    """A tail of these boxes; the fault lies in the plug at our end or at the house's."""
    long_m, plug_m = dice.uniform(5, 40), dice.uniform(0.02, 0.2)
    before_m, behind_m = (plug_m, long_m) if torn_at == "ours" else (long_m, plug_m)
    # Of single pairs and of double ones, in pF a metre: between the legs, from each to the shield.
    between_pf, shield_pf = ((50, 95), (60, 110), (95, 170))[dice.integers(3)]
    lines = (
        _cable("b", "hot", "cold", "near_hot", "near_cold", before_m, between_pf, shield_pf),
        _cable("e", "cut_hot", "cut_cold", "far_hot", "far_cold", behind_m, between_pf, shield_pf),
    )
    return Tail(tuple(SENDERS[sender](dice)), tuple(RECEIVERS[receiver](dice)), *map(tuple, lines))


def _cable(
    tag: str,
    hot: str,
    cold: str,
    far_hot: str,
    far_cold: str,
    length_m: float,
    between_pf: float,
    shield_pf: float,
) -> list[str]:
    """A cable in sections of 0.08 ohm and 0.6 uH a metre and leg."""
    step_m = length_m / _SECTIONS
    made = []
    for place in range(_SECTIONS):
        ends = []
        for leg, first, last in (("h", hot, far_hot), ("c", cold, far_cold)):
            start = first if place == 0 else f"{tag}{leg}{place}"
            end = last if place == _SECTIONS - 1 else f"{tag}{leg}{place + 1}"
            middle = f"{tag}{leg}m{place}"
            made += [
                f"R{tag}{leg}{place} {start} {middle} {0.08 * step_m}",
                f"L{tag}{leg}{place} {middle} {end} {0.6e-6 * step_m}",
                f"C{tag}{leg}{place} {end} 0 {shield_pf * step_m}p",
            ]
            ends.append(end)
        made.append(f"C{tag}x{place} {ends[0]} {ends[1]} {between_pf * step_m}p")
    return made


def netlist(tail: Tail, torn: Torn) -> list[str]:
    """The whole circuit, driven by a volt."""
    return [
        "Vs sig 0 AC 1",
        *tail.sender,
        *tail.before,
        f"Rj2 near_hot cut_hot {torn.pin2_ohm}",
        f"Rj3 near_cold cut_cold {torn.pin3_ohm}",
        f"Rjx cut_hot cut_cold {torn.across_ohm}",
        f"Rjs cut_cold 0 {torn.pin3_shield_ohm}",
        *tail.behind,
        *tail.receiver,
        # Nothing may hang in the air altogether.
        *(
            f"Rair{n} {node} 0 1e12"
            for n, node in enumerate(("hot", "cold", "far_hot", "far_cold"))
        ),
    ]


def solved(circuits: Sequence[Sequence[str]]) -> tuple[NDArray[np.float64], list[Spectrum]]:
    """The voltage between `out` and `ref` of each circuit, at these frequencies.

    Raises:
        FileNotFoundError: ngspice is not installed.
    """
    found: list[Spectrum] = []
    frequencies: NDArray[np.float64] = np.zeros(0)
    with tempfile.TemporaryDirectory() as folder:
        for number, lines in enumerate(circuits):
            path, table = Path(folder) / f"{number}.cir", Path(folder) / f"{number}.txt"
            control = [
                ".control",
                "set wr_singlescale",
                "ac dec 12 20 20000",
                "let got = v(out) - v(ref)",
                f"wrdata {table} real(got) imag(got)",
                "quit",
                ".endc",
                ".end",
            ]
            path.write_text("\n".join(["* tail", *lines, *control, ""]), encoding="ascii")
            done = subprocess.run(
                ["ngspice", "-b", str(path)], capture_output=True, text=True, timeout=60
            )
            if not table.exists():
                raise ValueError(f"ngspice did not solve it:\n{done.stdout[-1500:]}")
            rows = np.loadtxt(table)
            frequencies = rows[:, 0]
            found.append(rows[:, 1] + 1j * rows[:, 2])
    return frequencies, found


def broken(tail: Tail, torn: Torn) -> tuple[NDArray[np.float64], Spectrum]:
    """What a fault makes of a tail: frequencies, and what arrives over what would without it."""
    at_hz, (got, due) = solved((netlist(tail, torn), netlist(tail, Torn())))
    return at_hz, got / due


def _told() -> None:
    """A table of the faces, for a look."""
    faults = {
        "pin 2 open": Torn(pin2_ohm=_OPEN_OHM),
        "pin 3 open": Torn(pin3_ohm=_OPEN_OHM),
        "pin 3 on the shield": Torn(pin3_shield_ohm=0.5),
        "pins shorted": Torn(across_ohm=0.5),
    }
    for sender in SENDERS:
        for receiver in RECEIVERS:
            for at in ("ours", "theirs"):
                tail = dealt(sender, receiver, np.random.default_rng(1), torn_at=at)
                for name, torn in faults.items():
                    at_hz, ratio = broken(tail, torn)
                    levels = [
                        20 * math.log10(abs(complex(np.interp(hz, at_hz, ratio))))
                        for hz in (100, 1000, 4000)
                    ]
                    shown = " ".join(f"{level:7.1f}" for level in levels)
                    print(f"{sender:18}{receiver:28}{at:8}{name:22}{shown}")


if __name__ == "__main__":
    _told()
