"""Rules about the short names on devices: they must fit, and no two may look alike."""

from collections.abc import Iterable, Iterator

import msgspec

from rigproof.checks.rule import Finding, Rule, View
from rigproof.rig import Rig, Where
from rigproof.rig.geartype import GearType, Port, Stage
from rigproof.signal.words import box
from rigproof.wording import opening, some
from rigproof.wording.sentences import sentence


class _Text(msgspec.Struct, frozen=True):
    """One name on a strip: what it names, in full and in short."""

    subject: str
    name: str
    label: str  # the short form the file states, if any
    where: Where  # of the entry

    @property
    def shown(self) -> str:
        return self.label or self.name

    @property
    def at(self) -> Where:
        return self.where.of("label") if self.label else self.where


class _Strip(msgspec.Struct, frozen=True):
    """One row of names on a device, with the characters each may have."""

    gear: str
    bank: str
    chars: int
    texts: tuple[_Text, ...]


def _strips(rig: Rig) -> Iterator[_Strip]:
    """The rows of names that the file fills: channels, buses, slots and labelled inputs."""
    mixer = rig.mixer
    if mixer is not None:
        type_ = rig.type_of(mixer.id)
        for stage in (*type_.stages("channel"), *type_.stages("bus")):
            if stage.label_chars is not None:
                texts = _channels(rig) if stage.kind == "channel" else _mixes(rig, stage, type_)
                yield _Strip(mixer.id, stage.id, stage.label_chars, tuple(texts))
    yield from _inputs(rig)
    yield from _slots(rig)


def _channels(rig: Rig) -> Iterator[_Text]:
    for row in rig.rows.values():
        if row.channel is not None:
            yield _source(rig, row.source)


def _source(rig: Rig, name: str) -> _Text:
    source = rig.sources[name]
    return _Text(source.id, source.name, source.label, source.where)


def _mixes(rig: Rig, stage: Stage, type_: GearType) -> Iterator[_Text]:
    first = next(type_.stages("bus"))
    for mix in rig.file.mixes:
        on_mixer = rig.mixer is not None and mix.on in (None, rig.mixer.id)
        if on_mixer and mix.bus is not None and (mix.bank or first.id) == stage.id:
            yield _Text(mix.id, mix.name or mix.id, mix.label, mix.where)


def _inputs(rig: Rig) -> Iterator[_Strip]:
    rows: dict[tuple[str, str], list[_Text]] = {}
    for row in rig.rows.values():
        if row.plug is not None and row.plug.gear in rig.gear:
            rows.setdefault((row.plug.gear, row.plug.bank), []).append(_source(rig, row.source))
    for (gear, bank), texts in rows.items():
        port = rig.type_of(gear).banks.get(bank)
        if isinstance(port, Port) and port.label_chars is not None:
            yield _Strip(gear, bank, port.label_chars, tuple(texts))


def _slots(rig: Rig) -> Iterator[_Strip]:
    texts = tuple(_slot_texts(rig))
    if not texts:
        return
    for gear in rig.file.gear:
        type_ = rig.types[gear.type]
        if type_.class_ != "personal-mixer":
            continue
        for stage in type_.stages("slot"):
            if stage.label_chars is not None:
                yield _Strip(gear.id, stage.id, stage.label_chars, texts)


def _slot_texts(rig: Rig) -> Iterator[_Text]:
    for feed in rig.file.feeds:
        for slot in feed.slots:
            alone = rig.sources.get(slot.takes[0]) if len(slot.takes) == 1 else None
            name = slot.name or (alone.name if alone else "")
            label = slot.label or (alone.label if alone and name == alone.name else "")
            if name or label:
                at = slot.where if slot.where.line else feed.where
                yield _Text(f"{feed.id}.{slot.slot}", name or label, label, at)


def too_long(view: View) -> Iterator[Finding]:
    """A label is longer than a device can show.

    Why: the device cuts it, and "Guitar Left" and "Guitar Low" become the same word.
    Fix: shorten it to what the device shows; usual short forms are Kick, Sn T, HH, OH, LV, BV.
    Source: label_chars of the gear type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources:
          - {id: k, name: Kick, label: Kick drum inside, family: drums, mic: mic-kick-dynamic}
        patch: [{source: k, plug: mixer.in.1, channel: 1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: k, name: Kick drum in, label: Kick, family: drums, mic: mic-kick-dynamic}]
        patch: [{source: k, plug: mixer.in.1, channel: 1}]
    """
    tightest: dict[str, tuple[_Text, _Strip]] = {}
    for strip in _strips(view.rig):
        for text in strip.texts:
            known = tightest.get(text.subject)
            if text.label and (known is None or strip.chars < known[1].chars):
                tightest[text.subject] = (text, strip)
    for text, strip in tightest.values():
        if len(text.label) > strip.chars:
            yield Finding(
                at=text.at,
                says=sentence(
                    'The label "{label}" has {label2} characters; {box} shows {chars}.',
                    label=text.label,
                    label2=len(text.label),
                    box=box(view.rig, strip.gear),
                    chars=strip.chars,
                ),
                found=len(text.label),
                limit=strip.chars,
                unit="characters",
            )


def no_short_form(view: View) -> Iterator[Finding]:
    """Names are longer than a device shows, and have no short form.

    Why: everybody shortens them in another way, and the paper and the desk no longer agree.
    Fix: state label for each of them.
    Source: label_chars of the gear type.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: k, name: Kick drum in the shell, family: drums, mic: mic-kick-dynamic}]
        patch: [{source: k, plug: mixer.in.1, channel: 1}]
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources: [{id: k, name: Kick drum in, label: Kick, family: drums, mic: mic-kick-dynamic}]
        patch: [{source: k, plug: mixer.in.1, channel: 1}]
    """
    told: set[str] = set()
    for strip in _strips(view.rig):
        long = [
            text
            for text in strip.texts
            if not text.label and len(text.name) > strip.chars and text.subject not in told
        ]
        if long:
            told.update(text.subject for text in long)
            yield Finding(
                at=long[0].at,
                says=sentence(
                    "{box} shows {chars} characters; {names} {have} no short label.",
                    box=box(view.rig, strip.gear),
                    chars=strip.chars,
                    names=some(text.name for text in long),
                    have=_have(long),
                ),
                limit=strip.chars,
                unit="characters",
            )


def _have(texts: Iterable[_Text]) -> str:
    return sentence("has") if len({text.name for text in texts}) == 1 else sentence("have")


def doubled(view: View) -> Iterator[Finding]:
    """Two places on one device carry the same label, or look the same once it is cut off.

    Why: at the line check the wrong one of the two is turned up.
    Fix: make the labels differ within the characters the device shows.
    Source: common practice, no source.

    Fails:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources:
          - {id: one, name: Voice Ada, label: Voice, family: voices, mic: mic-vocal-dynamic}
          - {id: two, name: Voice Ben, label: Voice, family: voices, mic: mic-vocal-dynamic}
        patch:
          - {source: one, plug: mixer.in.1, channel: 1}
          - {source: two, plug: mixer.in.2, channel: 2}
    Passes:
        gear: [{id: mixer, type: mixer-rack-12}]
        sources:
          - {id: one, name: Voice Ada, label: V Ada, family: voices, mic: mic-vocal-dynamic}
          - {id: two, name: Voice Ben, label: V Ben, family: voices, mic: mic-vocal-dynamic}
        patch:
          - {source: one, plug: mixer.in.1, channel: 1}
          - {source: two, plug: mixer.in.2, channel: 2}
    """
    told: set[tuple[str, str]] = set()
    looked: set[tuple[int, int]] = set()  # many devices show one and the same list
    for strip in (*_strips(view.rig),):  # all kept, so that no two lists have one identity
        if (id(strip.texts), strip.chars) in looked:
            continue
        looked.add((id(strip.texts), strip.chars))
        seen: dict[str, _Text] = {}
        for text in strip.texts:
            cut = text.shown[: strip.chars].casefold().strip()
            first = seen.setdefault(cut, text)
            pair = (first.subject, text.subject)
            if first.subject == text.subject or pair in told:
                continue
            told.add(pair)
            names = sentence("{first} and {text}", first=first.name, text=text.name)
            if first.name == text.name:
                names = sentence('two places called "{text}"', text=text.name)
            yield Finding(
                at=text.at,
                says=sentence(
                    '{names} both read "{shown}" on {box}.',
                    names=opening(names),
                    shown=text.shown[: strip.chars].strip(),
                    box=box(view.rig, strip.gear),
                ),
            )


RULES = (
    Rule(id="label.too-long", severity="risk", check=too_long, since="0.1"),
    Rule(id="label.no-short-form", severity="advice", check=no_short_form, since="0.1"),
    Rule(id="label.doubled", severity="risk", check=doubled, since="0.1"),
)
