"""What a stream hangs on, as a trace tells it."""

from pathlib import Path

from tests.cli.conftest import Run
from tests.network.test_second_sockets import TWICE


def carriers(run: Run, folder: Path, text: str) -> list[str]:
    (folder / "rig.yaml").write_text("format: 1\nrig: {name: Twice}\n" + text, encoding="utf-8")
    (way,) = run("trace", folder, "voice", "ann", "--json").json["result"]["ways"]
    (stream,) = [hop for hop in way["hops"] if hop["by"] == "stream"]
    needs: list[str] = stream["needs"]
    return needs


def test_a_trace_names_what_carries_a_stream(run: Run, tmp_path: Path) -> None:
    assert carriers(run, tmp_path, TWICE) == ["stage", "either Switch one or Switch two"]
    single = "\n".join(line for line in TWICE.splitlines() if "id: card-two," not in line)
    assert carriers(run, tmp_path, single) == ["stage", "Switch one", "box-one", "card-one"]
