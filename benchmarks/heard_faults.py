"""Which faults of a recording are found, and how often a healthy one is blamed.

    python benchmarks/heard_faults.py               each fault ten times
    python benchmarks/heard_faults.py --each 2      fewer, which is quicker
    python benchmarks/heard_faults.py --write       the table into docs/recordings.md

Every take is of its own seed: its own tempo, notes, levels, bleed and noise, all of them in wider
ranges than those the limits were tuned on, and other recorded sounds. Every second one is laid from
recorded drums, basses, guitars, percussion and spoken words where the Debian packages
hydrogen-drumkits, sonic-pi-samples and alsa-utils are there. Each take is listened to as it is, and
with some faults built in at known places; a fault counts as found when its kind is told for its
channel.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.lineup import of_list
from rigproof.linecheck.listening import listen
from rigproof.linecheck.noticing import Noticed
from tests.linecheck import bandtakes
from tests.linecheck.bandtakes import FAULTS, LIST, Band, Stage

FIRST_SEED = 12000
DOCS = Path(__file__).resolve().parent.parent / "docs" / "recordings.md"
BEGIN, END = "<!-- rates -->", "<!-- end of rates -->"
LINEUP = of_list(LIST, name="list")
_PAIRED = {"polarity", "delay", "sides", "unequal", "same", "clock", "crosstalk", "pitch"}
_TOGETHER = 5


def stage(seed: int) -> Stage:
    """A stage and music unlike those used for tuning."""
    dice = np.random.default_rng(seed)
    return Stage(
        bleed_db=dice.uniform(-6, 5),
        far=dice.uniform(0.7, 1.8),
        noise_db=dice.uniform(-4, 6),
        low_db=dice.uniform(0, 9),
        beats=(60, 180),
        higher=int(dice.integers(-5, 8)),
        samples=(
            (6, ("bass_woodsy", "bass_hit", "bass_hard", "bass_voxy"), 0.4),
            (7, ("guit_", "ambi_piano"), 0.4),
            (3, ("drum_tom", "perc_", "tabla_"), 0.4),
            (15, ("ambi_choir", "ambi_glass", "tabla_tun"), 0.3),
        ),
    )


def dealt(each: int) -> list[list[tuple[str, int]]]:
    """Faults and their channels for each take, all faults as often; one that concerns all alone."""
    dice = np.random.default_rng(FIRST_SEED)
    names = list(FAULTS)
    hands: list[list[tuple[str, int]]] = []
    at = 0
    while at < each * len(names):
        hand: list[tuple[str, int]] = []
        used: set[int] = set()
        for _ in range(min(_TOGETHER, each * len(names) - at)):
            name = names[at % len(names)]
            known = FAULTS[name]
            if known.whole and hand:
                break
            places = [
                one
                for one in known.at
                if one not in used
                and not (known.kind in _PAIRED and one - 1 in used)
                and not (known.kind == "swapped" and 2 in used)
            ]
            if not places:
                break
            channel = int(dice.choice(places))
            used |= {channel} | ({channel - 1} if known.kind in _PAIRED else set())
            used |= {2} if known.kind == "swapped" else set()
            hand.append((name, channel))
            at += 1
            if known.whole:
                break
        hands.append(hand)
    return hands


def told(take: Band, folder: Path) -> tuple[Noticed, ...]:
    """What is noticed of a take once it is a file."""
    path = bandtakes.written(take, folder / "take.wav")
    found = listen(path, LINEUP).findings
    path.unlink()
    return found


class Tried(NamedTuple):
    """What came of one take: of the healthy one, of the faults, and what no fault explains."""

    real: bool
    quiet: list[Noticed]
    found: list[tuple[str, bool]]
    beside: list[Noticed]


def tried(number: int, hand: list[tuple[str, int]], seconds: float) -> Tried:
    """Make a take, listen to it, build its faults in, listen again."""
    kits = bandtakes.kits() if bandtakes.LOOPS.exists() else []
    seed = FIRST_SEED + number
    real = bool(kits) and number % 2 == 1
    take = bandtakes.band(
        seed,
        length_s=seconds,
        kit=kits[number // 2 % len(kits)] if real else None,
        loops=bandtakes.LOOPS if real else None,
        stage=stage(seed),
    )
    with tempfile.TemporaryDirectory() as name:
        quiet = told(take, Path(name))
        dice = np.random.default_rng(seed)
        for fault, channel in hand:
            FAULTS[fault].build(take, channel, dice)
        left = list(told(take, Path(name)))
    found = []
    for fault, channel in hand:
        known = FAULTS[fault]
        mine = [
            one
            for one in left
            if one.kind == known.kind and (known.whole or channel + 1 in (one.channel, *one.others))
        ]
        found.append((fault, bool(mine)))
        left = [one for one in left if one not in mine]
    return Tried(real, list(quiet), found, left)


def main() -> None:
    """Build the takes, listen to them, count."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--each", type=int, default=10)
    asked.add_argument("--seconds", type=float, default=24.0)
    asked.add_argument("--write", action="store_true")
    chosen = asked.parse_args()
    built, hit, failed, doubted, beside = Counter[str](), Counter[str](), 0, 0, Counter[str]()
    blamed = Counter[str]()
    recorded = 0
    began = time.monotonic()
    hands = dealt(chosen.each)
    with ProcessPoolExecutor(2) as pool:
        lengths = [chosen.seconds] * len(hands)
        for number, one in enumerate(pool.map(tried, range(len(hands)), hands, lengths)):
            recorded += one.real
            failed += any(notice.grade == "fail" for notice in one.quiet)
            doubted += any(notice.grade == "doubt" for notice in one.quiet)
            blamed.update(f"{notice.kind} ({notice.grade})" for notice in one.quiet)
            built.update(fault for fault, _ in one.found)
            hit.update(fault for fault, found in one.found if found)
            beside.update(f"{notice.kind} ({notice.grade})" for notice in one.beside)
            print(f"{number + 1} of {len(hands)}, {time.monotonic() - began:.0f} s", flush=True)
            print("  healthy:", [(a.kind, a.channel, a.grade, a.times_s[:3]) for a in one.quiet])
            print("  faults: ", one.found)
            print("  beside: ", [(a.kind, a.channel, a.grade) for a in one.beside], flush=True)
    lines = [
        f"{len(hands)} takes with faults and the same without, of {chosen.seconds:.0f} s "
        f"and {bandtakes.CHANNELS} channels; {recorded} of each from recorded sounds. "
        f"Seeds from {FIRST_SEED}.",
        "",
        "| fault | built in | found |",
        "|---|---|---|",
        *(f"| {fault} | {built[fault]} | {hit[fault]} |" for fault in FAULTS if built[fault]),
        f"| all | {sum(built.values())} | {sum(hit.values())} |",
        "",
        f"Healthy takes with a `fail`: {failed} of {len(hands)}; with a `doubt`: {doubted} of "
        f"{len(hands)} ({_counted(blamed)}). Findings in the takes with faults that no fault "
        f"explains: {_counted(beside)}.",
    ]
    print("\n".join(lines))
    if chosen.write:
        text = DOCS.read_text(encoding="utf-8")
        before, _, rest = text.partition(BEGIN)
        after = rest.partition(END)[2]
        table = "\n".join(lines)
        DOCS.write_text(f"{before}{BEGIN}\n\n{table}\n\n{END}{after}", encoding="utf-8")


def _counted(found: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(found.items())) or "none"


if __name__ == "__main__":
    main()
