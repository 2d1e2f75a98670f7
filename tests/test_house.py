"""The rules of the house that a machine can check. CONTRIBUTING.md says why they stand.

Each check takes a folder and returns the faults it finds, so that it can be shown a folder with
a planted fault: a check that cannot fail holds nobody to anything.
"""

import ast
import re
import subprocess
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = Path("src/rigproof")

Check = Callable[[Path], list[str]]

# --- Layers: a package imports from lower rows only, never from its own row. ---

LAYERS = (
    ("__main__",),
    ("cli", "web"),
    ("showbook",),
    ("checks", "whatif"),
    ("patch", "mixes", "handoff", "network", "rack", "mains", "linecheck"),
    ("signal", "rigfile"),
    ("rig", "physics"),
    ("wording",),
    # The root holds the version and nothing else, so that importing it costs nothing.
    ("__init__",),
)
HEIGHT = {name: -row for row, names in enumerate(LAYERS) for name in names}


def layer_faults(root: Path) -> list[str]:
    faults = []
    for path in modules(root, PACKAGE):
        inside = path.relative_to(root / PACKAGE)
        home = inside.parts[0].removesuffix(".py")
        if home not in HEIGHT:
            faults.append(f"{inside}: {home} is not in the table of layers")
            continue
        for line, target in imported_packages(path, inside):
            if target != home and HEIGHT.get(target, 1) >= HEIGHT[home]:
                faults.append(f"{inside}:{line}: {home} must not import {target}")
    return faults


def imported_packages(path: Path, inside: Path) -> Iterator[tuple[int, str]]:
    """The rigproof packages that a module names in any import, wherever the import stands."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        for name in imported_names(node, inside):
            match name.split("."):
                case ["rigproof", target, *_]:
                    # `from rigproof import __version__` names no package.
                    yield node.lineno, "__init__" if target.startswith("__") else target  # type: ignore[attr-defined]
                case ["rigproof"]:
                    yield node.lineno, "__init__"  # type: ignore[attr-defined]


def imported_names(node: ast.AST, inside: Path) -> list[str]:
    match node:
        case ast.Import(names=names):
            return [alias.name for alias in names]
        case ast.ImportFrom(module=module, names=names, level=level):
            above = ("rigproof", *inside.parts[:-1])
            start = above[: len(above) - level + 1] if level else ()
            stem = ".".join([*start, *([module] if module else [])])
            return [f"{stem}.{alias.name}" for alias in names]
        case ast.Call(
            func=ast.Name(id="import_module" | "__import__") | ast.Attribute(attr="import_module"),
            args=[ast.Constant(value=str(name)), *_],
        ):
            return [name]
    return []


# --- Modules: short, and named after their subject. ---

LONGEST_MODULE_LINES = 600
NO_SUBJECT = {
    "util", "utils", "helper", "helpers", "common", "base", "manager", "managers", "misc", "core",
}  # fmt: skip


def length_faults(root: Path) -> list[str]:
    faults = []
    for path in modules(root):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONGEST_MODULE_LINES:
            faults.append(f"{path.relative_to(root)}: {lines} lines; find the second subject")
    return faults


def name_faults(root: Path) -> list[str]:
    inside = [path.relative_to(root) for path in modules(root)]
    return [
        f"{path}: {part} names no subject"
        for path in inside
        for part in path.with_suffix("").parts
        if part.lower().split("_")[-1] in NO_SUBJECT
    ]


# --- Physics: each formula has its origin and one figure, each float its unit. ---

UNITS = set(
    """
    db dbu dbv dbm dbw dba dbfs dbi spl lufs lu
    hz khz mhz ghz rpm
    h min s ms us ns ppm samples frames
    km m cm mm m2 m3 mm2 awg ft kft cmil cfm
    kg g n nm kgm2 kgf
    v mv uv nv kv a ma ua ka w mw kw va kva wh kwh ah j ohm kohm mohm
    f uf nf pf henry mh uh
    pa kpa hpa upa degc k deg rad
    bit bits byte bytes bps kbps mbps gbps
    ratio percent count
    """.split()  # noqa: SIM905 (a table to read)
)
FLOAT_WORDS = {"float", "float32", "float64", "floating", "NDArray", "ArrayLike", "ndarray"}


def physics_faults(root: Path) -> list[str]:
    paths = list(modules(root, PACKAGE / "physics"))
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in paths}
    floats = FLOAT_WORDS | {
        name for tree in trees.values() for name in names_for_floats(tree, FLOAT_WORDS)
    }
    return [
        f"{path.relative_to(root)}:{fault}"
        for path, tree in trees.items()
        if not path.stem.startswith("_") or path.stem == "__init__"
        for fault in faults_of_formulas(tree, floats)
    ]


def names_for_floats(tree: ast.Module, floats: set[str]) -> Iterator[str]:
    """Aliases and type variables of a module that stand for floats."""
    for statement in tree.body:
        match statement:
            case (
                ast.Assign(targets=[ast.Name(id=name)], value=value)
                | ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value)
            ) if name[:1].isupper() and not name.isupper() and words_of(value) & floats:
                yield name


def words_of(annotation: ast.AST | None) -> set[str]:
    return set(re.findall(r"\w+", ast.unparse(annotation))) if annotation else set()


def carries_unit(name: str) -> bool:
    return name.lower().rsplit("_", 1)[-1] in UNITS


def faults_of_formulas(tree: ast.Module, floats: set[str]) -> Iterator[str]:
    for statement in tree.body:
        match statement:
            case ast.FunctionDef() if not statement.name.startswith("_"):
                yield from faults_of_function(statement, floats)
            case ast.ClassDef() if not statement.name.startswith("_"):
                for part in statement.body:
                    match part:
                        case ast.FunctionDef() if not part.name.startswith("_"):
                            yield from faults_of_function(part, floats)
                        case ast.AnnAssign(target=ast.Name(id=name), annotation=kind):
                            yield from fault_of_float(part.lineno, name, kind, floats)
            case ast.AnnAssign(target=ast.Name(id=name), annotation=kind):
                yield from fault_of_float(statement.lineno, name, kind, floats)
            case ast.Assign(targets=[ast.Name(id=name)], value=ast.Constant(value=float())) if not (
                name.startswith("_") or carries_unit(name)
            ):
                yield f"{statement.lineno}: {name} carries no unit"


def faults_of_function(function: ast.FunctionDef, floats: set[str]) -> Iterator[str]:
    if any("overload" in words_of(decorator) for decorator in function.decorator_list):
        return  # the function itself follows
    line, words = function.lineno, ast.get_docstring(function) or ""
    if "Source:" not in words and "Derived:" not in words:
        yield f"{line}: {function.name} says neither Source: nor Derived:"
    if ">>>" not in words:
        yield f"{line}: {function.name} shows no worked figure"
    if function.returns is not None:
        yield from fault_of_float(line, function.name, function.returns, floats)
    given = function.args
    for argument in (*given.posonlyargs, *given.args, *given.kwonlyargs):
        if argument.annotation is not None:
            yield from fault_of_float(line, argument.arg, argument.annotation, floats)


def fault_of_float(line: int, name: str, kind: ast.expr, floats: set[str]) -> Iterator[str]:
    if words_of(kind) & floats and not name.startswith("_") and not carries_unit(name):
        yield f"{line}: {name} carries no unit"


# --- Files: nothing of a developer's machine, nothing that runs a user's text. ---

# Written so that no pattern matches its own spelling here.
OF_A_MACHINE = re.compile(
    r"(?<![\w.~])/(?:home|Users|root|work|tmp|private/tmp|var/folders)/\w"
    r"|\b[A-Za-z]:\\+Users\\+\w"
    r"|\b(?:registry|deb|mirrors?)\.[\w-]+\.(?:org|com|net|io|dev)\b"
    r"|\bpypi\.\w+\b|\bpython[h]osted\b",
)


def machine_faults(root: Path) -> list[str]:
    faults = []
    for path in project_files(root):
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a font or a picture
        for number, line in enumerate(text.splitlines(), start=1):
            if found := OF_A_MACHINE.search(line):
                faults.append(f"{path.relative_to(root)}:{number}: {found[0]}")
    return faults


def template_faults(root: Path) -> list[str]:
    """Evaluation is the one way for a user's text to become markup; packages need a network."""
    return [
        f"{path.relative_to(root)}:{number}: {found[0]}"
        for path in project_files(root, ".typ")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if (found := re.search(r"\beval\b|@preview", line))
    ]


# --- Locks: names, versions and hashes; any index can serve them. ---

LOCK_LINE = re.compile(
    r"(?P<name>[a-z0-9.-]+)==(?P<version>[\w.]+)(?: ; [^\\]+)? \\"
    r"|    --hash=sha256:[0-9a-f]{64}(?: \\)?"
)


def lock_faults(root: Path) -> list[str]:
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"]
    named = [*project["project"]["dependencies"], *groups["build"]]
    tools = [line for line in groups["dev"] if isinstance(line, str)]
    faults = []
    for lock, wanted in {
        "requirements.lock": named,
        "requirements-dev.lock": named + tools,
    }.items():
        locked: dict[str, list[str]] = {}
        for number, line in enumerate((root / lock).read_text("utf-8").splitlines(), start=1):
            found = LOCK_LINE.fullmatch(line)
            if found is None:
                faults.append(f"{lock}:{number}: not a version or a hash: {line}")
            elif found["name"]:
                locked.setdefault(found["name"], []).append(found["version"])
        for need in map(Requirement, wanted):
            versions = locked.get(re.sub(r"[-_.]+", "-", need.name).lower(), [])
            if not versions or not all(map(need.specifier.contains, versions)):
                faults.append(f"{lock}: has {versions or 'nothing'} for {need}; refresh it")
    return faults


# --- Finding files ---


def project_files(root: Path, suffix: str = "") -> Iterator[Path]:
    """What git tracks or would track; in a folder without git, all that is not hidden."""
    if (root / ".git").exists():
        command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        listed = subprocess.run(command, cwd=root, capture_output=True, check=True).stdout
        paths = [root / name for name in listed.decode().split("\0") if name]
    else:
        paths = [path for path in root.rglob("*") if not hidden(path.relative_to(root))]
    return (path for path in sorted(paths) if path.name.endswith(suffix) and path.is_file())


def hidden(path: Path) -> bool:
    return any(part.startswith(".") for part in path.parts)


def modules(root: Path, package: Path = Path()) -> Iterator[Path]:
    return (p for p in project_files(root, ".py") if p.is_relative_to(root / package))


# --- The tests: the house is clean, and each check catches what it is there for. ---

CHECKS: tuple[Check, ...] = (
    layer_faults,
    length_faults,
    name_faults,
    physics_faults,
    machine_faults,
    template_faults,
    lock_faults,
)


@pytest.mark.parametrize("check", CHECKS)
def test_house(check: Check) -> None:
    assert check(ROOT) == []


FORMULA = '''
def sag_v(*, load_a: float, line_ohm: float) -> float:
    """Voltage lost in a line.

    Derived: Ohm's law.

    >>> sag_v(load_a=2, line_ohm=3)
    6
    """
    return load_a * line_ohm
'''

PLANTED: tuple[tuple[Check, str, str], ...] = (
    (layer_faults, "src/rigproof/rig/lines.py", "from rigproof.checks import rule\n"),
    (layer_faults, "src/rigproof/rig/lines.py", "from rigproof.physics.cable import loss_db\n"),
    (layer_faults, "src/rigproof/rig/lines.py", "from rigproof import checks\n"),
    (layer_faults, "src/rigproof/rig/lines.py", "from ..checks import rule\n"),
    (layer_faults, "src/rigproof/rig/deep/lines.py", "from ... import checks\n"),
    (layer_faults, "src/rigproof/rig/lines.py", "def f():\n    import rigproof.web.pages\n"),
    (layer_faults, "src/rigproof/patch/order.py", "import rigproof.mixes\n"),
    (layer_faults, "src/rigproof/wording.py", "from rigproof.rig import Rig\n"),
    (layer_faults, "src/rigproof/__init__.py", "from rigproof.wording import listed\n"),
    (
        layer_faults,
        "src/rigproof/rig/lines.py",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from rigproof.web import app\n",
    ),
    (
        layer_faults,
        "src/rigproof/rig/lines.py",
        'import importlib\nimportlib.import_module("rigproof.cli")\n',
    ),
    (layer_faults, "src/rigproof/gadgets/x.py", ""),
    (length_faults, "src/rigproof/rig/long.py", "\n" * 601),
    (length_faults, "tests/test_long.py", "\n" * 601),
    (name_faults, "src/rigproof/utils.py", ""),
    (name_faults, "src/rigproof/rig/core/lines.py", ""),
    (name_faults, "src/rigproof/rig/patch_helpers.py", ""),
    (physics_faults, "src/rigproof/physics/a.py", FORMULA.replace("Derived:", "See")),
    (physics_faults, "src/rigproof/physics/a.py", FORMULA.replace(">>>", "...")),
    (physics_faults, "src/rigproof/physics/a.py", FORMULA.replace("load_a", "load")),
    (physics_faults, "src/rigproof/physics/a.py", FORMULA.replace("sag_v", "sag")),
    (physics_faults, "src/rigproof/physics/a.py", FORMULA.replace("load_a: float", "x: NDArray")),
    (
        physics_faults,
        "src/rigproof/physics/a.py",
        "Floats = float | list[float]\n" + FORMULA.replace("load_a: float", "load: Floats"),
    ),
    (physics_faults, "src/rigproof/physics/a.py", "class Cable:\n    length: float\n"),
    (physics_faults, "src/rigproof/physics/a.py", "SPEED_OF_SOUND = 343.0\n"),
    (machine_faults, "docs/a.md", "see /" + "home/ana/rig.yaml"),
    (machine_faults, "docs/a.md", "see '/" + "Users/ana/rig.yaml'"),
    (machine_faults, "docs/a.md", "see C:\\" + "Users\\ana"),
    (machine_faults, "tests/a.py", 'open("/' + 'tmp/rig.yaml")'),
    (machine_faults, "docs/a.md", "get it from https://" + "pypi" + ".org/simple"),
    (machine_faults, "package.json", "https://registry" + ".example.org/x.tgz"),
    (template_faults, "src/rigproof/showbook/a.typ", '#eval(name, mode: "markup")'),
    (template_faults, "src/rigproof/showbook/a.typ", '#import "@preview/tables:0.1.0"'),
)


@pytest.mark.parametrize(("check", "path", "text"), PLANTED)
def test_a_planted_fault_is_caught(check: Check, path: str, text: str, tmp_path: Path) -> None:
    write(tmp_path / path, text)
    faults = check(tmp_path)
    assert faults
    assert all(Path(path).name in fault or Path(path).parent.name in fault for fault in faults)


@pytest.mark.parametrize(
    ("check", "path", "text"),
    [
        (layer_faults, "src/rigproof/web/a.py", "from rigproof import __version__, patch, web\n"),
        (layer_faults, "src/rigproof/rig/a.py", "from .b import c\nfrom . import d\nimport os\n"),
        (layer_faults, "src/rigproof/rig/a.py", "from rigproof.wording import listed\n"),
        (length_faults, "src/rigproof/rig/a.py", "\n" * 600),
        (name_faults, "src/rigproof/rack/case.py", ""),
        (physics_faults, "src/rigproof/physics/a.py", FORMULA),
        (physics_faults, "src/rigproof/physics/a.py", "C_M_PER_S = 343.0\n\ndef _x(y: float): ..."),
        (physics_faults, "src/rigproof/rig/a.py", "class Cable:\n    length: float\n"),
        (machine_faults, "docs/a.md", "put it in ~/rigs, at home/work/tmp; registry.get(x)"),
        (template_faults, "src/rigproof/showbook/a.typ", "#let evaluated = medieval\n"),
    ],
)
def test_the_clean_pass(check: Check, path: str, text: str, tmp_path: Path) -> None:
    write(tmp_path / path, text)
    assert check(tmp_path) == []


HASHED = " \\\n    --hash=sha256:" + "0" * 64 + "\n"


@pytest.mark.parametrize(
    ("lock", "faulty"),
    [
        ("numpy==2.4.6" + HASHED + "hatchling==1.0" + HASHED, 0),
        ("numpy==2.4.6\nhatchling==1.0" + HASHED, 2),
        ("numpy==2.3.0" + HASHED + "hatchling==1.0" + HASHED, 2),
        ("hatchling==1.0" + HASHED, 2),
        ("--index-url somewhere\nnumpy==2.4.6" + HASHED + "hatchling==1.0" + HASHED, 2),
    ],
)
def test_a_stale_or_bound_lock_is_caught(lock: str, faulty: int, tmp_path: Path) -> None:
    write(
        tmp_path / "pyproject.toml",
        '[project]\ndependencies = ["numpy>=2.4"]\n'
        '[dependency-groups]\nbuild = ["hatchling"]\ndev = [{include-group = "build"}]\n',
    )
    write(tmp_path / "requirements.lock", lock)
    write(tmp_path / "requirements-dev.lock", lock)
    assert len(lock_faults(tmp_path)) >= faulty
    assert bool(lock_faults(tmp_path)) == bool(faulty)


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
