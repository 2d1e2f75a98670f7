"""The key to a set of labels: what was assumed, what the colours mean, what does not fit."""

from collections.abc import Iterator, Sequence

from rigproof.physics.colours import DIGIT_COLOURS, colour_letters
from rigproof.rig import Rig
from rigproof.showbook.blocks import (
    Block,
    Drawing,
    cell,
    column,
    heading,
    numbers,
    points,
    remark,
    say,
    table,
)
from rigproof.showbook.drawings import ink
from rigproof.showbook.labels.colouring import TONES, players
from rigproof.showbook.labels.content import Asked, Label, Strip
from rigproof.showbook.labels.fitting import Loss, alike


def key_blocks(
    rig: Rig,
    labels: Sequence[Label],
    asked: Asked,
    losses: Sequence[Loss],
    gone: Sequence[Label],
) -> tuple[Block, ...]:
    """What stands on the page after the labels."""
    return (
        *_gone(asked, gone),
        *_lost(asked, losses),
        *_pitches(asked, labels),
        *_colours(rig, labels, asked),
        *_how(asked, labels),
    )


def _gone(asked: Asked, gone: Sequence[Label]) -> Iterator[Block]:
    if gone:
        yield heading(asked.edition.say("labels.take_off"))
        yield points(label.title for label in gone)


def _lost(asked: Asked, losses: Sequence[Loss]) -> Iterator[Block]:
    say_ = asked.edition.say
    if not losses:
        return
    yield heading(say_("labels.not_as_written"))
    yield table(
        [
            column(say_("labels.label"), 1.6),
            column(say_("labels.written"), 1.6),
            column(say_("labels.stands"), 1.2),
            column(say_("labels.why"), 1.8),
        ],
        [
            [
                remark(_where(asked, names)),
                remark(loss.text),
                cell(loss.shown),
                remark(say_(f"labels.how_{loss.how}")),
            ]
            for loss, names in alike(losses).items()
        ],
    )


def _where(asked: Asked, names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    return asked.edition.say("labels.and_more", name=names[0], n=len(names) - 1)


def _pitches(asked: Asked, labels: Sequence[Label]) -> Iterator[Block]:
    """Each row of a device once, with the pitch it was cut to and where that is from."""
    say_ = asked.edition.say
    rows: dict[tuple[str, str], Strip] = {}
    for label in labels:
        if isinstance(label, Strip):
            rows.setdefault((label.gear, label.bank), label)
    if not rows:
        return
    yield heading(say_("labels.pitches"))
    yield table(
        [
            column(say_("labels.box"), 1.5),
            column(say_("labels.bank"), 1.2),
            numbers(say_("labels.rows"), 0.5),
            numbers(say_("labels.pitch"), 0.8, unit="mm"),
            column(say_("labels.pitch_from"), 2.2),
        ],
        [
            [
                cell(row.box),
                cell(row.bank),
                cell(str(row.rows)),
                cell(asked.edition.number(row.pitch_mm)),
                remark(say_(f"paper.{row.pitch_from}") if row.pitch_from else say_("labels.usual")),
            ]
            for row in rows.values()
        ],
    )
    yield say(say_("labels.rows_run"))
    if not all(row.pitch_from for row in rows.values()):
        yield say(say_("labels.usual_say"))
    if any(isinstance(label, Strip) and label.legend for label in labels):
        yield say(say_("labels.centred"))


def _colours(rig: Rig, labels: Sequence[Label], asked: Asked) -> Iterator[Block]:
    """The legend of the scheme: every colour by word, letters and patch."""
    say_ = asked.edition.say
    if asked.scheme == "none" or all(label.kind == "cards" for label in labels):
        return
    if asked.scheme == "digits":
        meant = [(colour, str(digit)) for digit, colour in enumerate(DIGIT_COLOURS)]
    else:
        meant = [(colour, rig.people[name].name) for name, colour in players(rig).items()]
    yield heading(say_("labels.colours"))
    rows = [(say_(f"labels.{colour}"), colour, what) for colour, what in meant]
    yield _patches(rows, say_("labels.colours"))
    said = "labels.digits_say" if asked.scheme == "digits" else "labels.players_say"
    yield say(say_(said))
    without = [p.name for p in rig.file.people[len(meant) :]] if asked.scheme == "players" else []
    if without:
        yield say(say_("labels.no_colour", names=asked.edition.listed(without)))


def _patches(rows: Sequence[tuple[str, str, str]], alt: str) -> Block:
    step, wide = 5.4, 84.0
    half = -(-len(rows) // 2)
    marks = []
    for place, (word, colour, what) in enumerate(rows):
        x, y = wide * (place // half), step * (place % half)
        marks.append(ink.rect((x + 0.2, y + 0.6), (9, 3.8), fill=TONES[colour]))
        line = f"{colour_letters(colour)}   {word}"
        marks.append(ink.text((x + 11, ink.middle(y + 2.5, 2.9)), line, size=2.9, style="bold"))
        marks.append(ink.text((x + 38, ink.middle(y + 2.5, 2.9)), what, size=2.9, within=wide - 42))
    height = half * step + 0.4
    told = "; ".join(f"{colour_letters(colour)} {word}: {what}" for word, colour, what in rows)
    return Drawing(svg=ink.sheet(2 * wide, height, marks), alt=f"{alt}: {told}", width_mm=2 * wide)


def _how(asked: Asked, labels: Sequence[Label]) -> Iterator[Block]:
    say_ = asked.edition.say
    kinds = dict.fromkeys(label.kind for label in labels)
    told = [say_(f"labels.how_to_{kind}") for kind in kinds]
    if told:
        yield heading(say_("labels.how_to"))
        yield points(told)
