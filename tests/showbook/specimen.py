"""Data for the specimen of the shared look: an invented band, and every part once."""

from pathlib import Path

TEMPLATE = (Path(__file__).parent / "specimen.typ").read_bytes()

SPECIMEN: dict[str, object] = {
    "band": "Saltmarsh Ceilidh Union",
    "title": "Show book",
    "kicker": "Rig and hand-off · complete edition",
    "subtitle": "Eight players, thirty-one sources, one case on wheels",
    "version": "version 14",
    "date": "3 May 2031",
    "valid_until": "30 June 2031",
    "call": "Ilse Varga, monitors and rack: 0100 555 0142",
    "paper": "a4",
    "flipped": False,
    "facts": [
        ["Next show", "Fri 9 May, Tin Chapel"],
        ["Case", "12 U, 61.4 kg with lids"],
        ["Hand-off", "12 analogue tails"],
        ["Power", "one 16 A outlet, 3.1 A used"],
    ],
    "tally": {"stop": 1, "risk": 2, "advice": 3, "unknown": 2},
    "verdicts": [
        {
            "severity": "stop",
            "title": "The click can reach the house through spare tail 12.",
            "body": "Private sources must end in ears and nowhere else.",
            "pairs": [
                ["Path", "laptop 3 → rack input 23 → bus 9 → rear output 12 → tail 12"],
                ["Do", "Take bus 9 off rear output 12, or leave tail 12 in the case."],
            ],
            "id": "private.reaches-house",
        },
        {
            "severity": "risk",
            "title": "Two inputs can put 48 V on the fiddle line.",
            "body": "",
            "pairs": [["Where", "split leg 7: rack input 7 and house tail 7"]],
            "id": "split.two-feeders",
        },
        {
            "severity": "unknown",
            "title": "Noise at Oona's ears cannot be judged.",
            "body": "Missing: sensitivity of her earphones.",
            "pairs": [],
            "id": "ears.noise",
        },
        {
            "severity": "advice",
            "title": "Four rear sockets are left; label them before someone fills them.",
            "body": "",
            "pairs": [],
            "id": "patch.spare-unlabelled",
        },
    ],
    "numbers": [
        {"value": "31", "unit": "of 32", "label": "Channels", "note": "one held open"},
        {"value": "8", "unit": "stereo", "label": "Mixes", "note": "16 of 16 buses"},
        {
            "value": "3.6",
            "unit": "ms",
            "label": "Voice to ear",
            "note": "worst of eight paths",
        },
        {"value": "61.4", "unit": "kg", "label": "Case", "note": "two people lift"},
    ],
    "note": "Numbers in bold are printed on the gear and on both ends of every lead. "
    "A figure marked typical was not measured on this rig.",
    "table_title": "Input list",
    "rows": [
        {"group": "Drums"},
        *(
            {
                "n": n,
                "name": name,
                "socket": f"front panel {n}",
                "level": f"{-22.5 + n:.1f}".replace("-", "−"),
                "remark": remark,
            }
            for n, name, remark in (
                (1, "Kick in", "boundary, on a cushion"),
                (2, "Kick out", ""),
                (3, "Snare top", ""),
                (4, "Snare under", "polarity turned"),
                (5, "Hat", "48 V"),
                (6, "Rack tom", ""),
                (7, "Floor tom", ""),
                (8, "Bodhrán ♯2", "clip, 48 V"),
                (9, "Overhead left", "48 V"),
                (10, "Overhead right", "48 V"),
            )
        ),
        {"group": "Strings and reeds"},
        *(
            {
                "n": n,
                "name": name,
                "socket": f"stage box {n - 10}",
                "level": "−8.0",
                "remark": "",
            }
            for n, name in (
                (11, "Úna fiddle"),
                (12, "Σωτηρία bouzouki"),
                (13, "Жанна accordion low"),
                (14, "Жанна accordion high"),
                (15, "太鼓 guest"),
                (16, "עדי clarinet"),
                (17, "سلمى oud"),
            )
        ),
        {
            "n": 18,
            "name": "held for network",
            "socket": "",
            "level": None,
            "held": True,
        },
        {"group": "Voices"},
        *(
            {
                "n": n,
                "name": f"Voice {n - 18}",
                "socket": f"stage box {n - 10}",
                "level": "+4.0",
            }
            for n in range(19, 33)
        ),
    ],
    "caution": "Levels at the ear are computed from data sheets. Start low, and let a competent "
    "person measure before long use.",
    "caption": "From stage box to rack, to no scale.",
    "svg": '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 40"><rect x="2" y="5" '
    'width="60" height="30" fill="none" stroke="#16202e"/><path d="M62 20H198" stroke="#16202e"/>'
    '<text x="10" y="24" font-family="Fira Sans" font-size="9">stage box</text></svg>',
}
