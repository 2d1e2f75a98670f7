"""What this tool may never say in any language, of hearing, mains, lifting or anything else."""

import json
import re
from collections.abc import Iterator

from rigproof.wording.phrases import LANGUAGES
from rigproof.wording.sentences import FOLDER
from tests.bands import ROOT

# A promise that nobody can keep. German "sichern" and "Sicherung" (to back up, a backup, a fuse)
# promise nothing.
NEVER = re.compile(
    r"\b(un)?safe(ly|ty)?\b|\brisk-free"
    r"|\b(un)?sicher(er?|e[nmrs]?|heit\w*|lich)?\b|gefahrlos|unbedenklich|ungef\u00e4hrlich|harmlos",
    re.IGNORECASE,
)
SOURCE = ROOT / "src" / "rigproof"


def _of_python() -> Iterator[tuple[str, str]]:
    """Comments too: what stands in one is copied into a text one day."""
    for path in sorted(SOURCE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        # A word of numpy's for its own conversions.
        yield str(path.relative_to(ROOT)), text.replace('casting="unsafe"', "")


def _of_catalogues() -> Iterator[tuple[str, str]]:
    for path in sorted((*FOLDER.glob("*.json"), *(FOLDER.parent / "phrases").glob("*.json"))):
        for key, said in json.loads(path.read_text(encoding="utf-8")).items():
            yield path.name, key
            for text in said.values():  # two of them where one is told otherwise than many
                yield path.name, text if isinstance(text, str) else " ".join(text)


def _of_pages() -> Iterator[tuple[str, str]]:
    for folder in ("docs", "examples", "src/rigproof/demo", "src/rigproof/library"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in {".md", ".yaml"}:
                yield str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")
    yield "README.md", (ROOT / "README.md").read_text(encoding="utf-8")


def test_no_word_promises_that_nothing_can_happen() -> None:
    assert set(LANGUAGES) == {"en", "de"}  # a third one needs its words above
    seen = 0
    for whence, text in (*_of_python(), *_of_catalogues(), *_of_pages()):
        found = NEVER.search(text)
        assert found is None, f"{whence}: {found}"
        seen += 1
    assert seen > 5_000
