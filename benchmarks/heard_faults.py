"""Which faults of a recording are found, and how often a healthy one is blamed.

    python benchmarks/heard_faults.py               ten takes with faults, ten without
    python benchmarks/heard_faults.py --takes 30    more of both
    python benchmarks/heard_faults.py --write       the table into docs/recordings.md

Every take is of its own seed: its own tempo, notes, levels, bleed and noise. Every second one is
laid from recorded drums, basses, guitars and spoken words where the Debian packages
hydrogen-drumkits, sonic-pi-samples and alsa-utils are there. The faults are built in at known
places; a fault counts as found when its kind is told for its channel. The seeds begin at 2000:
those below were for tuning.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from rigproof.linecheck.lineup import of_list
from rigproof.linecheck.listening import listen
from rigproof.linecheck.noticing import Noticed
from tests.linecheck import bandtakes
from tests.linecheck.bandtakes import FAULTS, LIST, Band

FIRST_SEED = 2000
DOCS = Path(__file__).resolve().parent.parent / "docs" / "recordings.md"
BEGIN, END = "<!-- rates -->", "<!-- end of rates -->"
LINEUP = of_list(LIST, name="list")
_PAIRED = {"polarity", "delay", "sides", "unequal", "same", "clock", "crosstalk"}
_TOGETHER = 5


def dealt(takes: int) -> list[list[tuple[str, int]]]:
    """Faults and their channels for each take, all faults as often; one that concerns all alone."""
    dice = np.random.default_rng(FIRST_SEED)
    names = list(FAULTS)
    hands: list[list[tuple[str, int]]] = []
    at = 0
    for _ in range(takes):
        hand: list[tuple[str, int]] = []
        used: set[int] = set()
        for _ in range(_TOGETHER):
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


def main() -> None:
    """Build the takes, listen to them, count."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--takes", type=int, default=10)
    asked.add_argument("--seconds", type=float, default=24.0)
    asked.add_argument("--write", action="store_true")
    chosen = asked.parse_args()
    kits = bandtakes.kits() if bandtakes.LOOPS.exists() else []
    built, hit, failed, doubted, beside = Counter[str](), Counter[str](), 0, 0, Counter[str]()
    blamed = Counter[str]()
    recorded = 0
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for number, hand in enumerate(dealt(chosen.takes)):
            seed = FIRST_SEED + number
            real = bool(kits) and number % 2 == 1
            recorded += real
            take = bandtakes.band(
                seed,
                length_s=chosen.seconds,
                kit=kits[number // 2 % len(kits)] if real else None,
                loops=bandtakes.LOOPS if real else None,
            )
            quiet = told(take, folder)
            failed += any(one.grade == "fail" for one in quiet)
            doubted += any(one.grade == "doubt" for one in quiet)
            blamed.update(f"{one.kind} ({one.grade})" for one in quiet)
            dice = np.random.default_rng(seed)
            for fault, channel in hand:
                FAULTS[fault].build(take, channel, dice)
            left = list(told(take, folder))
            for fault, channel in hand:
                known = FAULTS[fault]
                mine = [
                    one
                    for one in left
                    if one.kind == known.kind
                    and (known.whole or channel + 1 in (one.channel, *one.others))
                ]
                built[fault] += 1
                hit[fault] += bool(mine)
                left = [one for one in left if one not in mine]
            beside.update(f"{one.kind} ({one.grade})" for one in left)
            print(f"{number + 1} of {chosen.takes}, {time.monotonic() - began:.0f} s", flush=True)
            print("  healthy:", [(one.kind, one.channel, one.grade) for one in quiet])
            print("  faulty: ", hand, "beside:", [(one.kind, one.channel) for one in left])
    lines = [
        f"{chosen.takes} takes with faults and {chosen.takes} without, of {chosen.seconds:.0f} s "
        f"and {bandtakes.CHANNELS} channels; {recorded} of each from recorded sounds. "
        f"Seeds from {FIRST_SEED}.",
        "",
        "| fault | built in | found |",
        "|---|---|---|",
        *(f"| {fault} | {built[fault]} | {hit[fault]} |" for fault in FAULTS if built[fault]),
        f"| all | {sum(built.values())} | {sum(hit.values())} |",
        "",
        f"Healthy takes with a `fail`: {failed} of {chosen.takes}; with a `doubt`: {doubted} of "
        f"{chosen.takes} ({_counted(blamed)}). Findings in the takes with faults that no fault "
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
