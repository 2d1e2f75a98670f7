"""The commands there are, and how their words are read. A command loads when it is asked for."""

import argparse
import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from importlib import import_module
from types import ModuleType
from typing import NoReturn

# Each command is a module of this package with `arguments(parser)` and `run(asked)`.
COMMANDS: dict[str, str] = {
    "new": "start a rig: asks a few questions, writes a rig.yaml to fill in",
    "check": "judge a rig: what will go wrong, where, why, and what to do",
    "trace": "follow one source to one pair of ears, hop by hop",
    "why": "lay a figure open: its sum line by line, with formulas and where each number is from",
    "gains": "plan every gain: the least hiss with room for the peaks; what to write on tape",
    "swap": "swap a box or somebody's earphones in thought: what changes, and which to buy",
    "book": "print the show book, one PDF",
    "papers": "print single papers for the band, the house, a deputy or a shop",
    "export": "hand the rig to other programs: workbook, lists, data, drawings",
    "import": "take an input list from a spreadsheet into a new rig, or into one that is there",
    "pocket": "write the pocket book: the whole rig in one file for phones, no network needed",
    "labels": "print labels at true scale: strips, panel legends, flags for leads, cards",
    "signal": "write the test signal: all channels at once, each to be told apart",
    "measure": "play the test signal and record it at once, through a sound card; then as prove",
    "prove": "hold a recording of the test signal against the plan",
    "listen": "listen to a multitrack recording: what went wrong on which channel, and when",
    "draft": "from a rehearsal recording: gains, and a first mix for each listener to hear at home",
    "announce": "write sounds in which each line says its number and name, or read them back",
    "explain": "say what a rule looks for, and why",
    "diff": "say what changed since an earlier version, whose pages and labels are now wrong",
    "history": "list, show or bring back earlier versions of a rig file",
    "demo": "write the demo rig, judge it and print its show book",
    "schema": "print the JSON Schema of the rig file, for editors",
}
# A module cannot be called by a word that Python keeps for itself.
_MODULES = {"import": "importing"}
# Those that write files: after a failure they cannot promise that nothing was changed.
WRITING = frozenset(
    {
        "new",
        "gains",
        "book",
        "papers",
        "export",
        "import",
        "pocket",
        "labels",
        "signal",
        "measure",
        "prove",
        "draft",
        "announce",
        "history",
        "demo",
    }
)

USAGE = "rigproof COMMAND ..."
CLOSING = """\
RIG is a folder or its rig.yaml; left out, it is the folder you are in.
Every command takes --json (one answer for a program to read) and --help.
Exit codes: 0 clean, 1 something was found, 2 could not run, 130 stopped with Ctrl-C.
Colour shows on a terminal only, and never where NO_COLOR is set."""


class UsageFault(Exception):
    """A command line that cannot be meant as it stands: what is wrong, and what to do."""

    def __init__(self, says: str, fix: str) -> None:
        super().__init__(says)
        self.says = says
        self.fix = fix


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise UsageFault(_in_plain_words(message), f"It goes: {_usage(self)}")


def _in_plain_words(message: str) -> str:
    """What the parser complains of, as a sentence."""
    missing = message.removeprefix("the following arguments are required: ")
    if missing != message:
        return f"missing: {missing.replace(', ', ' and ')}."
    about, _, trouble = message.removeprefix("argument ").partition(": ")
    number = re.fullmatch(r"invalid int value: '(.*)'", trouble)
    if number:
        return f'{about} takes a number, not "{number[1]}".'
    choice = re.fullmatch(r"invalid choice: '(.*)' \(choose from (.*)\)", trouble)
    if choice:
        words = choice[2].replace("'", "").replace(", ", " or ")
        return f'{about} is {words}, not "{choice[1]}".'
    if trouble.startswith("expected"):
        return f"{about} wants something behind it."
    return f"{message.removeprefix('argument ')}."


class _Form(argparse.HelpFormatter):
    """Help in our own words."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=26, width=88)

    def add_usage(
        self,
        usage: str | None,
        actions: Iterable[argparse.Action],
        groups: Iterable[argparse._MutuallyExclusiveGroup],
        prefix: str | None = None,  # noqa: ARG002 (ours is always the same)
    ) -> None:
        super().add_usage(usage, actions, groups, "It goes: ")


def module_of(command: str) -> ModuleType:
    """The module that runs a command."""
    return import_module(f"rigproof.cli.{_MODULES.get(command, command)}")


def parser_of(command: str) -> argparse.ArgumentParser:
    """The parser of one command, with what all of them take."""
    module = module_of(command)
    parser = _Parser(
        prog=f"rigproof {command}",
        description=" ".join((module.__doc__ or "").split()),
        add_help=False,
        allow_abbrev=False,
        formatter_class=_Form,
    )
    parser._positionals.title, parser._optionals.title = "Names", "Options"
    parser.color = False  # type: ignore[attr-defined]  # newer Pythons would colour the help
    module.arguments(parser)
    parser.add_argument("--json", action="store_true", help="one answer for a program to read")
    parser.add_argument("-h", "--help", action="store_true", help="this page")
    return parser


def read(words: Sequence[str]) -> tuple[str, argparse.Namespace]:
    """The command asked for and its arguments.

    Raises:
        UsageFault: no such command or option, or something missing.
    """
    command, rest = words[0], list(words[1:])
    if command not in COMMANDS:
        near = get_close_matches(command, COMMANDS, n=1)
        fix = f'Did you mean "rigproof {near[0]}"?' if near else f"There are: {listed(COMMANDS)}."
        raise UsageFault(f'there is no command "{command}".', fix)
    parser = parser_of(command)
    if "-h" in rest or "--help" in rest:
        return command, argparse.Namespace(help=parser.format_help())
    asked, unknown = parser.parse_known_args(rest)
    if unknown:
        options = [option for action in parser._actions for option in action.option_strings]
        near = get_close_matches(unknown[0], options, n=1)
        fix = f'Did you mean "{near[0]}"?' if near else f"It goes: {_usage(parser)}"
        raise UsageFault(f'"rigproof {command}" does not know "{unknown[0]}".', fix)
    asked.help = ""
    return command, asked


def _usage(parser: argparse.ArgumentParser) -> str:
    return " ".join(parser.format_usage().removeprefix("It goes: ").split())


def listed(words: Sequence[str] | dict[str, str]) -> str:
    """Words in a row; here as well as in `wording`, so that help loads nothing more."""
    row = list(words)
    return f"{', '.join(row[:-1])} and {row[-1]}"
