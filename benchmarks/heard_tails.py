"""Which faults of tails are found, how often a whole one is blamed, and which lines a phone hears.

    python benchmarks/heard_tails.py            twenty houses with broken tails, twenty without
    python benchmarks/heard_tails.py --write    the tables into docs
    python benchmarks/heard_tails.py --spice    forty houses whose broken pairs ngspice solves

Each house is of its own seed: faults, boxes at both ends, lengths of cable, gains, noise, hum. A
fault counts as found when a fault of its kind is told for its tail. The seeds begin at 5000; those
of the tests were for tuning. With --spice broken pairs are as boxes are built, see `tail_circuits`.
"""

import argparse
import sys
from collections import Counter
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from benchmarks import tail_circuits
from rigproof.linecheck.announcing import announced, announcement
from rigproof.linecheck.lineup import End, Line
from rigproof.linecheck.measuring import read_take
from rigproof.linecheck.score import Score, rendered
from rigproof.linecheck.tailends import Told, at_house, of_inputs
from tests.linecheck import house_end
from tests.linecheck.house_end import House, automatic

FIRST_SEED = 5000
SPICE_SEED = 8000  # those from 5000 on showed what is looked for since
RATE = 16_000
TAILS = 12
DOCS = Path(__file__).resolve().parent.parent / "docs"
LINES = {n: Line(number=n, name=f"line {n}", gain_db=0.0) for n in range(1, TAILS + 1)}
ENDS = {
    n: End(number=n, entry=n, channel=n, source="", lane=0, name="", sent_from="") for n in LINES
}
TOLD = Told(own={}, private=frozenset(), played=TAILS)
DRIVEN, ISOLATED, DIRECT = house_end.DRIVEN, house_end.ISOLATED, house_end.DIRECT
FAULTS = {
    "one leg open, driven line": ((DRIVEN,), (house_end.OPEN_2, house_end.OPEN_3), "open-leg"),
    "one leg open, direct split": ((DIRECT,), (house_end.OPEN_2, house_end.OPEN_3), "open-leg"),
    "one leg open, isolated line": (
        (ISOLATED,),
        (house_end.OPEN_2, house_end.OPEN_AT_HOUSE),
        "open-leg or missing",
    ),
    "one leg on the shield, driven line": ((DRIVEN,), (house_end.ON_SHIELD,), "open-leg"),
    "pins 2 and 3 shorted": ((DRIVEN, ISOLATED, DIRECT), (house_end.SHORT,), "short or missing"),
    "turned over": ((), (), "polarity"),
    "dead": ((), (), "missing"),
    "two swapped": ((), (), "elsewhere"),
}


def main() -> None:
    """Count, print, and write where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, default=20)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--spice", action="store_true")
    asked = parser.parse_args()
    if asked.spice:
        judged = solved_elsewhere(2 * asked.houses)
        print(judged)
        if asked.write:
            put(DOCS / "tails.md", "judged", judged)
        return
    rates, heard = houses(asked.houses), phones()
    print(f"{rates}\n\n{heard}")
    if asked.write:
        put(DOCS / "tails.md", "rates", rates)
        put(DOCS / "announcing.md", "announced", heard)


def put(path: Path, mark: str, table: str) -> None:
    """A table between its marks."""
    begin, end = f"<!-- {mark} -->", f"<!-- end of {mark} -->"
    text = path.read_text(encoding="utf-8")
    before, _, rest = text.partition(begin)
    _, _, after = rest.partition(end)
    path.write_text(f"{before}{begin}\n{table}\n{end}{after}", encoding="utf-8")


def houses(count: int) -> str:
    """Broken tails and whole ones."""
    built: Counter[str] = Counter()
    found: Counter[str] = Counter()
    strange = whole = blamed = 0
    played = rendered(Score(TAILS, RATE), level_dbfs=-20)
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        dice = np.random.default_rng(seed)
        gains = {n: float(dice.uniform(-0.8, 0.8)) for n in LINES}
        noise_dbfs = float(dice.uniform(-100, -75))
        sound = House(gain_db=gains, noise_dbfs=noise_dbfs)
        whole += TAILS
        blamed += len({tail for _, tail in faults_of(played, sound, seed)})
        broken, wanted = dealt(dice, sound)
        told = faults_of(played, broken, seed)
        for name, kind, tail in wanted:
            built[name] += 1
            kinds = {told_kind for told_kind, at in told if at == tail}
            found[name] += bool(kinds & set(kind.split(" or ")))
        mine = {tail for _, _, tail in wanted} | set(broken.route)
        strange += len({tail for _, tail in told if tail not in mine})
    rows = [f"| {name} | {found[name]} of {built[name]} |" for name in FAULTS]
    return "\n".join(
        [
            f"| fault, {count} houses of {TAILS} tails | found |",
            "|-|-|",
            *rows,
            f"| whole tails blamed beside broken ones | {strange} |",
            f"| whole tails blamed in whole houses | {blamed} of {whole} |",
        ]
    )


def dealt(dice: np.random.Generator, sound: House) -> tuple[House, list[tuple[str, str, int]]]:
    """Four faults at four tails, and what should be told of them."""
    names = dice.choice(list(FAULTS), 4, replace=False)
    tails = [int(n) for n in dice.permutation(TAILS)[:5] + 1]
    broken, route = {}, {}
    flipped, dead, hum = set(), set(), {}
    wanted = []
    for name, tail in zip(names, tails, strict=False):
        senders, faults, kind = FAULTS[name]
        told = tail
        if senders:
            fault = faults[dice.integers(len(faults))]
            metres = float(dice.uniform(3, 30))
            at_house_end = fault.behind_m < 1
            fault = msgspec.structs.replace(
                fault,
                **({"before_m": metres} if at_house_end else {"behind_m": metres}),
            )
            receiver = (house_end.LINE_IN, house_end.MIC_IN)[dice.integers(2)]
            broken[tail] = (senders[dice.integers(len(senders))], receiver, fault)
            if dice.uniform() < 0.5:
                hum[tail] = float(dice.uniform(-75, -60))
        elif kind == "polarity":
            flipped.add(tail)
        elif kind == "missing":
            dead.add(tail)
        else:
            route = {tail: tails[4], tails[4]: tail}
            told = min(route)
        wanted.append((str(name), kind, told))
    house = House(
        broken=broken,
        route=route,
        flipped=frozenset(flipped),
        dead=frozenset(dead),
        gain_db=sound.gain_db,
        hum_dbfs=hum,
        noise_dbfs=sound.noise_dbfs,
    )
    return house, wanted


def faults_of(played: NDArray[np.float32], house: House, seed: int) -> set[tuple[str, int]]:
    """What is told as a fault: kinds and tails. Hum is no fault of a pair and is left out."""
    heard = house_end.at_house(played, house, rate_hz=RATE, seed=seed)
    take = read_take(heard.astype(np.float32), RATE, Score(TAILS, RATE), level_dbfs=-20)
    assert take is not None
    report = at_house(of_inputs(take, ENDS), LINES, ENDS, TOLD)
    return {
        (one.kind, one.channel)
        for one in report.findings
        if one.grade == "fail" and one.kind not in ("hum", "noise")
    }


SPICE_FAULTS = {
    "pin 2 open": (tail_circuits.Torn(pin2_ohm=1e12), "open-leg or missing"),
    "pin 3 open": (tail_circuits.Torn(pin3_ohm=1e12), "open-leg or missing"),
    "pin 3 on the shield": (tail_circuits.Torn(pin3_shield_ohm=0.5), "open-leg"),
    "pins 2 and 3 shorted": (tail_circuits.Torn(across_ohm=0.5), "short or missing"),
}


def solved_elsewhere(count: int) -> str:
    """Broken pairs as boxes are built, by outputs: how many are named for what they are."""
    built: Counter[tuple[str, str]] = Counter()
    found: Counter[tuple[str, str]] = Counter()
    seen: Counter[tuple[str, str]] = Counter()
    strange = 0
    played = rendered(Score(TAILS, RATE), level_dbfs=-20)
    for seed in range(SPICE_SEED, SPICE_SEED + count):
        dice = np.random.default_rng(seed)
        shapes, hum, wanted = {}, {}, {}
        receiver = list(tail_circuits.RECEIVERS)[dice.integers(4)]  # a house has inputs of one kind
        for tail in dice.permutation(TAILS)[:4] + 1:
            sender = list(tail_circuits.SENDERS)[dice.integers(4)]
            name = list(SPICE_FAULTS)[dice.integers(4)]
            torn_at = ("ours", "theirs")[dice.integers(2)]
            circuit = tail_circuits.dealt(sender, receiver, dice, torn_at=torn_at)
            shapes[int(tail)] = tail_circuits.broken(circuit, SPICE_FAULTS[name][0])
            wanted[int(tail)] = name, sender
            if dice.uniform() < 0.5:
                hum[int(tail)] = float(dice.uniform(-75, -60))
        house = House(
            shapes=shapes,
            hum_dbfs=hum,
            gain_db={n: float(dice.uniform(-0.8, 0.8)) for n in LINES},
            noise_dbfs=float(dice.uniform(-100, -75)),
        )
        told = faults_of(played, house, seed)
        for tail, case in wanted.items():
            kinds = {kind for kind, at in told if at == tail}
            built[case] += 1
            found[case] += bool(kinds & set(SPICE_FAULTS[case[0]][1].split(" or ")))
            seen[case] += bool(kinds)
        strange += len({at for _, at in told} - set(wanted))
    rows = [f"| {count} houses of {TAILS} tails, by outputs | {' | '.join(SPICE_FAULTS)} |"]
    rows.append("|-" * 5 + "|")
    for sender in tail_circuits.SENDERS:
        cells = []
        for name in SPICE_FAULTS:
            case = name, sender
            more = seen[case] - found[case]
            cells.append(f"{found[case]} of {built[case]}{f', {more} else' if more else ''}")
        rows.append(f"| {sender} | {' | '.join(cells)} |")
    whole = (TAILS - 4) * count
    rows.append(f"| whole tails blamed beside them | {strange} of {whole} | | | |")
    return "\n".join(rows)


PLACES = (
    ("10 dB over noise, automatic level", 10, 0.0, True),
    ("0 dB over noise", 0, 0.0, False),
    ("15 dB over noise, a room of 0.3 s", 15, 0.3, False),
    ("10 dB over noise, a room of 0.6 s, automatic level", 10, 0.6, True),
)


def phones() -> str:
    """Lines that say their numbers to a phone: its band, noise, a room, an automatic level."""
    rows = []
    for name, snr_db, room_s, agc in PLACES:
        heard = wrong = total = 0
        for seed in range(FIRST_SEED, FIRST_SEED + 10):
            dice = np.random.default_rng(seed)
            numbers = [int(n) for n in dice.permutation(48)[:4] + 1]
            walk = np.concatenate([announcement(n, None, rate_hz=48_000) for n in numbers])
            told = announced(recorded(walk, dice, snr_db, room_s, agc), rate_hz=RATE)
            sure = {one.number for one in told if one.sure}
            total += len(numbers)
            heard += len(sure & set(numbers))
            wrong += len(sure - set(numbers))
        rows.append(f"| {name} | {heard} of {total} | {wrong} |")
    head = ["| a phone, 300 to 3400 Hz, 16 kHz | heard and sure | wrong |", "|-|-|-|"]
    return "\n".join([*head, *rows])


def recorded(
    sound: house_end.Sound, dice: np.random.Generator, snr_db: float, room_s: float, agc: bool
) -> house_end.Sound:
    """What a phone makes of a small speaker; the room's sound is 6 dB under the direct one."""
    if room_s:
        length = int(room_s * 48_000)
        room = dice.normal(0, 1, length) * np.exp(-6.9 * np.arange(length) / length)
        room *= 0.5 / np.sqrt(np.square(room).sum())
        room[0] += 1
        sound = fftconvolve(sound, room)[: len(sound)]
    band = butter(4, (300, 3400), "band", fs=48_000, output="sos")
    heard = resample_poly(sosfilt(band, sound), 1, 3)
    loud = heard[np.abs(heard) > 0.1 * np.abs(heard).max()]
    size = np.sqrt(np.square(loud).mean()) * 10 ** (-snr_db / 20)
    heard = heard + dice.normal(0, size, len(heard))
    return automatic(heard, RATE) if agc else heard


if __name__ == "__main__":
    main()
