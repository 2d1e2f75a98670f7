"""Start a rig: ask a few questions, or take them as options, and write a rig.yaml to fill in."""

import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from rigproof.cli.answer import CLEAN, Answer, CannotRun, Fault
from rigproof.cli.schema import RIG, SCHEMAS
from rigproof.cli.terminal import Row, clean

if TYPE_CHECKING:
    from rigproof.rigfile.beginning import Player, Wishes

HOUSES = {
    "tails": "a split of every microphone, on tails",
    "mixed": "a finished mix from our mixer",
    "unknown": "not known yet",
}
_WIRELESS = {"wireless", "w"}
_WIRED = {"wired", ""}


def arguments(parser: ArgumentParser) -> None:
    """What `rigproof new` takes."""
    parser.add_argument("folder", metavar="FOLDER", help="where to start; made if it is not there")
    parser.add_argument("--band", metavar="NAME", help="what the band is called")
    parser.add_argument(
        "--player",
        metavar="NAME:PLAYS[:wireless]",
        action="append",
        default=[],
        help='once for each, for example "Ana:bass and voice:wireless"',
    )
    parser.add_argument("--inputs", metavar="N", type=int, help="how many inputs, at least")
    parser.add_argument(
        "--house",
        metavar="|".join(HOUSES),
        choices=tuple(HOUSES),
        help="what the houses take from you",
    )
    parser.add_argument("--mixer", metavar="TYPE", default="", help="a mixer of the gear library")


def run(asked: Namespace) -> Answer:
    """Ask what was not said, if somebody is there to answer; write; tell what comes next."""
    from rigproof.rigfile import history
    from rigproof.rigfile.beginning import NoStart
    from rigproof.rigfile.starter import starter
    from rigproof.rigfile.write import replace

    folder = Path(asked.folder)
    rig_file = folder / "rig.yaml"
    _refuse_to_overwrite(folder, rig_file)
    try:
        text = starter(_wishes(asked), schema=f"./{RIG}")
    except NoStart as error:
        raise CannotRun(Fault(error.says, error.fix)) from error
    folder.mkdir(parents=True, exist_ok=True)
    schema = folder / RIG
    replace(schema, (SCHEMAS / RIG).read_bytes())
    # Mode x: a file that came into being meanwhile is not overwritten either.
    with rig_file.open("x", encoding="utf-8", newline="\n") as file:
        file.write(text)
    history.keep(folder, rig_file.name, "started")
    return Answer(CLEAN, {"rig": str(rig_file), "schema": str(schema)}, tuple(_rows(rig_file)))


def _refuse_to_overwrite(folder: Path, rig_file: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise CannotRun(Fault(f'"{folder}" is a file, not a folder.', "Name another folder."))
    if rig_file.exists():
        raise CannotRun(
            Fault(
                f'"{rig_file}" is there already, and stays as it is.',
                "Name another folder, or go on with that rig.",
            )
        )


def _wishes(asked: Namespace) -> "Wishes":
    """What the options say; questions for the rest, where a person can answer."""
    from rigproof.rigfile.beginning import Wishes
    from rigproof.rigfile.library import type_ids

    if asked.mixer and asked.mixer not in type_ids():
        mixers = ", ".join(name for name in type_ids() if name.startswith("mixer-"))
        raise CannotRun(
            Fault(f'no mixer of the library is called "{asked.mixer}".', f"There are: {mixers}.")
        )
    if asked.inputs is not None and not 0 < asked.inputs <= 512:
        raise CannotRun(Fault("--inputs takes a number from 1 to 512."))
    players = tuple(player_of(words) for words in asked.player)
    if players or asked.json or sys.stdin is None or not sys.stdin.isatty():
        return Wishes(
            asked.band or "Our band",
            players,
            asked.inputs or 0,
            asked.house or "tails",
            asked.mixer,
        )
    return _asked_in_person(asked)


def player_of(words: str) -> "Player":
    """`Ana:bass and voice:wireless` as a player.

    Raises:
        CannotRun: it is not of that form.
    """
    from rigproof.rigfile.beginning import Player

    name, _, rest = words.partition(":")
    plays, _, how = rest.partition(":")
    if not name.strip() or not plays.strip() or how.strip() not in _WIRELESS | _WIRED:
        raise CannotRun(
            Fault(
                f'"{words}" does not say who plays what.',
                'It goes NAME:PLAYS or NAME:PLAYS:wireless, for example "Ana:bass and voice".',
            )
        )
    return Player(name.strip(), plays.strip(), how.strip() in _WIRELESS)


def _asked_in_person(asked: Namespace) -> "Wishes":
    from rigproof.rigfile.beginning import Player, Wishes

    print("A few questions. Enter takes what stands in brackets; all of it can be changed later.\n")
    band = asked.band or _question("What is the band called?", "Our band")
    players: list[Player] = []
    while True:
        name = _question("Who plays? A name, or Enter when that was all.", "")
        if not name:
            if players:
                break
            continue
        plays = _question(f"  What does {clean(name)} play or sing?", "voice")
        players.append(Player(name, plays, _wireless("  Wired or wireless ears?")))
    inputs = asked.inputs or _number("How many inputs do you want, at least?")
    house = asked.house
    while house not in HOUSES:
        print("What do the houses take from you?")
        for word, meaning in HOUSES.items():
            print(f"  {word:8} {meaning}")
        house = _question("  One of these words:", "tails")
    return Wishes(band, tuple(players), inputs, house, asked.mixer)


def _question(text: str, default: str) -> str:
    shown = f" [{default}]" if default else ""
    try:
        return input(f"{text}{shown} ").strip() or default
    except EOFError as error:
        fault = Fault("the answers ended before the questions.", "Run it again.")
        raise CannotRun(fault) from error


def _wireless(text: str) -> bool:
    while True:
        word = _question(text, "wired").lower()
        # Half a word will do, as long as it can only be one of the two.
        if "wireless".startswith(word) and not "wired".startswith(word):
            return True
        if "wired".startswith(word):
            return False
        print('  "wired" or "wireless", please.')


def _number(text: str) -> int:
    while True:
        word = _question(text, "as many as you bring")
        if word.isascii() and word.isdigit():
            return int(word)
        if word.startswith("as"):
            return 0
        print("  A number, please.")


def _rows(rig_file: Path) -> Iterator[Row]:
    yield Row(str(rig_file), lead="Started: ", lead_tone="strong")
    yield Row()
    yield Row("Open it in any text editor and correct what is wrong: it is a form, half filled in.")
    yield Row(f"Then:  rigproof check {_typed(rig_file.parent)}")


def _typed(folder: Path) -> str:
    """A folder as it has to be typed: in quotes where a space would break it in two."""
    text = str(folder)
    plain = all(char.isalnum() or char in "/\\:._-~+,@=" for char in text)
    return text if plain else f'"{text}"'
