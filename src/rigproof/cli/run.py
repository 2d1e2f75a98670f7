"""Run one command line to its end: answers to standard output, faults to standard error.

No traceback reaches a person. What the user can put right is said in a sentence; what only we can
put right goes into a report file.
"""

import sys
from collections.abc import Sequence
from typing import TextIO

from rigproof.cli.answer import CANNOT_RUN, CLEAN, Answer, CannotRun, Fault, envelope
from rigproof.cli.commands import (
    CLOSING,
    COMMANDS,
    USAGE,
    WRITING,
    UsageFault,
    module_of,
    read,
)
from rigproof.cli.terminal import Row, columns, prepare, screen, write


def run(words: Sequence[str]) -> int:
    """Run the command that these words ask for; its exit code."""
    prepare()
    if not words:
        _overview(sys.stderr)
        return CANNOT_RUN
    if words[0] == "help":
        words = [*words[1:2], "--help"]
    as_json = "--json" in words
    command = words[0]
    try:
        if command in ("-h", "--help"):
            _overview(sys.stdout)
            return CLEAN
        command, asked = read(words)
        if asked.help:
            write(sys.stdout, asked.help)
            return CLEAN
        answer: Answer = module_of(command).run(asked)
        _show(command, answer, as_json=as_json)
    except (Exception, SystemExit) as error:
        return _refuse(command, _faults(error, command, words), as_json=as_json)
    return answer.code


def _overview(out: TextIO) -> None:
    screen(out).show(
        Row("Rigproof: from one description of a band's in-ear rig to its verdict and its papers."),
        Row(),
        Row(f"It goes: {USAGE}", tone="strong"),
        Row(),
        *columns(tuple(COMMANDS.items())),
        Row(),
        *(Row(line) for line in CLOSING.splitlines()),
    )


def _show(command: str, answer: Answer, *, as_json: bool) -> None:
    if as_json:
        write(sys.stdout, envelope(command, answer.code, answer.result) + "\n")
    else:
        screen(sys.stdout).show(*answer.rows)


def _refuse(command: str, faults: Sequence[Fault], *, as_json: bool) -> int:
    if as_json:
        known = command if command in COMMANDS else ""
        write(sys.stdout, envelope(known, CANNOT_RUN, None, faults) + "\n")
    else:
        screen(sys.stderr).show(*(row for fault in faults for row in fault.rows()))
    return CANNOT_RUN


def _faults(error: BaseException, command: str, words: Sequence[str]) -> tuple[Fault, ...]:
    """What to tell the user about an exception."""
    from rigproof.rig.where import RigError, RigErrors

    if isinstance(error, UsageFault):
        return (Fault(error.says, error.fix),)
    if isinstance(error, CannotRun):
        return error.faults
    if isinstance(error, RigErrors | RigError):
        found = error.faults if isinstance(error, RigErrors) else (error,)
        return tuple(Fault(f.says, f.fix, f.at.file, f.at.line, f.at.column) for f in found)
    if isinstance(error, OSError) and error.strerror:
        about = f" ({error.filename})" if error.filename else ""
        return (
            Fault(
                f"the computer refused: {error.strerror.lower()}{about}.",
                "Check that the place exists, has room, and lets you read and write.",
            ),
        )
    return (_our_fault(error, command, words),)


def _our_fault(error: BaseException, command: str, words: Sequence[str]) -> Fault:
    """A mistake of ours: what happened, and where the report is."""
    from rigproof.cli.report import write_report

    left = (
        "Files are written whole or not at all, so none of yours is half-written."
        if command in WRITING
        else "Nothing was changed."
    )
    path = write_report(error, words)
    kept = (
        f"What went wrong is written in {path}; it may hold names from your rig. Please send it to "
        "whoever gave you Rigproof."
        if path
        else f"A report could not be written either; it began: {type(error).__name__}."
    )
    return Fault(f'"{command}" stopped by a mistake in Rigproof, not of yours. {left} {kept}')
