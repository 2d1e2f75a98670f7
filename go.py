"""Set up what is missing, then run the demo or the tests.

    python3 go.py demo [FOLDER]     the demo rig: its verdict, and its show book in FOLDER
    python3 go.py test [ARGUMENTS]  the tests; the arguments go to pytest

Needs nothing but Python. Everything it installs goes into the folder .venv beside this file, each
package checked against the hash in the lock file; delete that folder to undo it all.
"""

# Kept readable for old Pythons (no match, no X | Y), so that they can say that they are too old.
import hashlib
import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from typing import List, Sequence, Tuple  # noqa: UP035

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
NEEDED = (3, 11)
# The demo needs no test tools, and a reader on a slow line need not wait for them.
LOCKS = {"demo": "requirements.lock", "test": "requirements-dev.lock"}


class SetUpError(Exception):
    """Something the reader has to put right; the text says what and how."""


def check_python(version: Tuple[int, int], *, modules: Sequence[str]) -> None:  # noqa: UP006
    """Refuse, with the remedy, a Python that cannot do the job."""
    spelled = ".".join(map(str, version))
    if version < NEEDED:
        raise SetUpError(
            f"Python {spelled} is too old: Rigproof needs 3.11 or newer.\n"
            "  Install a newer one and name it, for example: python3.11 go.py demo"
        )
    missing = [name for name in modules if importlib.util.find_spec(name) is None]
    if missing:
        raise SetUpError(
            f"This Python lacks its own module {' and '.join(missing)}.\n"
            f"  On Debian and Ubuntu: sudo apt install python{spelled}-venv\n"
            "  Elsewhere: install Python again, with pip and venv ticked."
        )


def fingerprint(lock: Path) -> str:
    """What the set-up depends on; when it changes, the set-up is done again."""
    parts = [lock.read_bytes(), (HERE / "pyproject.toml").read_bytes(), str(HERE).encode()]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def set_up(lock: Path) -> None:
    """Bring .venv to what the lock says, unless it is there already."""
    stamp = VENV / f"{lock.name}.installed"
    wanted = fingerprint(lock)
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted:
        return
    if not usable_environment():
        print("Making a virtual environment in .venv ...", flush=True)
        made = subprocess.run(
            [sys.executable, "-m", "venv", "--clear", str(VENV)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        if made.returncode != 0:
            raise SetUpError(
                f"The virtual environment {VENV} could not be made. Python says:\n{made.stdout}"
            )
    print(f"Installing what {lock.name} lists (a minute or two the first time) ...", flush=True)
    pip("--require-hashes", "-r", str(lock))
    # The build backend came with the lock: nothing is fetched here.
    pip("--no-deps", "--no-build-isolation", "--editable", str(HERE))
    stamp.write_text(wanted)


def usable_environment() -> bool:
    """Whether .venv runs, is new enough and has pip; half-made ones are common after a failure."""
    if not PYTHON.exists():
        return False
    probe = f"import sys, pip; sys.exit(sys.version_info < {NEEDED})"
    return subprocess.run([str(PYTHON), "-c", probe], stderr=subprocess.DEVNULL).returncode == 0


def pip(*arguments: str) -> None:
    """Install with the environment's own pip, which tells a person at a screen how far it is."""
    quiet = [] if sys.stdout.isatty() else ["-qq"]
    command = [str(PYTHON), "-m", "pip", "--disable-pip-version-check", "--no-input", "install"]
    if subprocess.run([*command, *quiet, *arguments]).returncode != 0:
        raise SetUpError(
            "The packages could not be installed; pip says why just above.\n"
            '  "No matching distribution", "Connection" or "Retrying": this computer does not\n'
            "  reach the package index. Go online (or set the proxy) and try again.\n"
            "  Once set up, Rigproof needs no network."
        )


def command_for(words: Sequence[str]) -> List[str]:  # noqa: UP006
    """The command to run inside the environment."""
    if words[0] == "demo":
        folder = words[1] if len(words) > 1 else str(HERE / "demo-rig")
        return [str(PYTHON), "-m", "rigproof", "demo", folder]
    return [str(PYTHON), "-m", "pytest", "-n", "auto", *words[1:]]


def main(words: Sequence[str]) -> int:
    """Run one of the two jobs; its exit code, or 2 when it could not be started."""
    if not words or words[0] not in LOCKS or (words[0] == "demo" and len(words) > 2):
        print((__doc__ or "").strip(), file=sys.stderr)
        return 2
    try:
        check_python(sys.version_info[:2], modules=["venv", "ensurepip"])
        set_up(HERE / LOCKS[words[0]])
        where = HERE if words[0] == "test" else None
        return subprocess.run(command_for(words), cwd=where).returncode
    except SetUpError as fault:
        print(fault, file=sys.stderr)
    except OSError as fault:
        print(f"The set-up failed: {fault}.", file=sys.stderr)
    except KeyboardInterrupt:
        print("Stopped; the same command goes on from here.", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
