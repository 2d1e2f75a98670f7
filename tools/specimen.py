"""Set the specimen of the shared look and leave its pages as pictures in a folder.

    python tools/specimen.py FOLDER [a4|us-letter]

For whoever changes the look: look at the pages, then at the same pages in two tones, as a poor
copier leaves them.
"""

import json
import sys
from pathlib import Path

from rigproof.showbook.typeset import pages_png, pdf

SPECIMEN_DIR = Path(__file__).resolve().parent.parent / "tests/showbook"


def main(arguments: list[str]) -> int:
    if not arguments:
        print(__doc__)
        return 2
    folder = Path(arguments[0])
    folder.mkdir(parents=True, exist_ok=True)
    template = (SPECIMEN_DIR / "specimen.typ").read_bytes()
    specimen = json.loads((SPECIMEN_DIR / "specimen.json").read_text(encoding="utf-8"))
    data = {**specimen, "paper": arguments[1] if arguments[1:] else "a4"}
    (folder / "specimen.pdf").write_bytes(pdf(template, data))
    for number, page in enumerate(pages_png(template, data, dots_per_inch=110), start=1):
        (folder / f"specimen-{number}.png").write_bytes(page)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
