"""From an understood sheet to a rig: the text of a new one, or edits to one that is there.

Into a rig that is there nothing is written over and no number moves: what it leaves out is filled
in, what it says otherwise is told.
"""

from collections.abc import Iterator, Sequence

import msgspec

from rigproof.rig import Rig
from rigproof.rig.band import Source
from rigproof.rigfile.beginning import run_of, short_words
from rigproof.rigfile.edit import Add, Edit, Set
from rigproof.rigfile.intake.sources import NOTE_MOST, Free, Input, Understood
from rigproof.rigfile.intake.vocabulary import plain_words
from rigproof.rigfile.library import library_type
from rigproof.rigfile.written import Plain, inline

_NAME_MOST = 200  # of a rig


def new_rig(found: Understood, *, file: str, schema: str) -> str:
    """The text of a rig with what the sheet says, and nothing that it does not say."""
    players = list(dict.fromkeys(one.player for one in found.inputs if one.player))
    people = dict(zip(players, short_words(players), strict=True))
    ids = short_words(one.name for one in found.inputs)
    about: dict[str, Plain] = {"name": (" ".join(file.split()) or "Imported")[:_NAME_MOST]}
    if found.notes:
        about["note"] = "\n".join(found.notes)[:NOTE_MOST]
    lines = [
        f"# yaml-language-server: $schema={schema}",
        f"# From {inline(file)}, sheet {inline(found.grid.name)}.",
        "# imported.csv tells what became of each cell.",
        "format: 1",
        "rig:",
        *(f"  {key}: {inline(value)}" for key, value in about.items()),
        "",
    ]
    if people:
        lines += ["people:"]
        lines += [f"  - {inline({'id': id_, 'name': name})}" for name, id_ in people.items()]
        lines += [""]
    if found.inputs:
        lines += ["sources:"]
        for id_, one in zip(ids, found.inputs, strict=True):
            lines.append(f"  - {inline(_source(id_, one, people.get(one.player)))}")
        lines += [""]
    rows = [
        row for id_, one in zip(ids, found.inputs, strict=True) if len(row := _row(id_, one)) > 1
    ]
    if rows:
        lines += ["# Numbers here never move by themselves.", "patch:"]
        lines += [f"  - {inline(row)}" for row in rows]
        lines += [""]
    if found.free:
        lines += ["holds:", *(f"  - {inline(_hold(one))}" for one in found.free), ""]
    lines += [
        "# Still to come: the gear, the leads, what each of you hears.",
    ]
    return "\n".join(lines) + "\n"


def _source(id_: str, one: Input, player: str | None) -> dict[str, Plain]:
    entry: dict[str, Plain] = {"id": id_, "name": one.name, "family": one.family}
    if one.label:
        entry["label"] = one.label
    if player:
        entry["player"] = player
    if one.stereo:
        entry["stereo"] = True
        if one.pair != "left-right":
            entry["pair"] = one.pair
    if one.mic:
        entry["di" if one.mic.startswith("di-") else "mic"] = one.mic
    if one.whose and one.whose != "band":
        entry["owner"] = one.whose
    need = _need(one)
    if need:
        entry["phantom"] = need
    for key in ("stand", "alternative"):
        if getattr(one, key):
            entry[key] = getattr(one, key)
    if one.notes:
        entry["note"] = " \u00b7 ".join(one.notes)[:NOTE_MOST]
    return entry


def _need(one: Input) -> str | None:
    """What the source wants from its line, where the sheet says other than the microphone."""
    own = None
    if one.mic:
        ports = library_type(one.mic).ports
        own = next((port.phantom_need for port in ports if port.way == "out"), None)
    if one.phantom in ("must", "never"):
        return one.phantom if one.phantom != own else None
    # An empty cell of a 48 V column says no; where the microphone says yes, the sheet is believed.
    return "tolerates" if one.phantom in ("none", "on") and own in ("must", "never") else None


def _row(id_: str, one: Input) -> dict[str, Plain]:
    row: dict[str, Plain] = {"source": id_}
    if one.channels:
        row["channel"] = _run(one.channels)
    if one.line:
        row["line"] = one.line
    if one.phantom == "on":
        row["phantom"] = "on"
    return row


def _run(channels: tuple[int, int]) -> Plain:
    first, last = channels
    return first if first == last else run_of(first, last)


def _hold(one: Free) -> dict[str, Plain]:
    return {"channels": _run(one.channels), "why": one.why}


# --- into a rig that is there -------------------------------------------------------------------


class Merge(msgspec.Struct, frozen=True):
    """The edits to make, what they add, and what the rig says otherwise, in words."""

    edits: tuple[Edit, ...]
    added: tuple[str, ...]
    filled: tuple[str, ...]
    differs: tuple[str, ...]


def merged(found: Understood, rig: Rig) -> Merge:
    """What a sheet adds to a rig: sources by name, then everything that the rig leaves out."""
    return _Merger(rig).merged(found)


class _Merger:
    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.edits: list[Edit] = []
        self.added: list[str] = []
        self.filled: list[str] = []
        self.differs: list[str] = []
        self.people = {_same(one.name): one.id for one in rig.file.people}
        self.sources = _known(rig)
        self.taken = {number: "" for hold in rig.file.holds for number in hold.channels or ()}
        for row in rig.file.patch:
            name = rig.sources[row.source].name
            self.taken.update(dict.fromkeys(row.channel or (), name))

    def merged(self, found: Understood) -> Merge:
        known = [(one, self._of(one.name)) for one in found.inputs]
        new = [one for one, there in known if there is None]
        for one, there in known:
            if there is not None:
                self._there(there, one)
        ids = short_words((one.name for one in new), self.rig.sources)
        for id_, one in zip(ids, new, strict=True):
            self._new(id_, one)
        for kept in found.free:
            self._free(kept)
        return Merge(
            tuple(self._in_order()), tuple(self.added), tuple(self.filled), tuple(self.differs)
        )

    def _in_order(self) -> Iterator[Edit]:
        """List by list, so that the text is gone through once for each."""
        yield from (edit for edit in self.edits if isinstance(edit, Set))
        for path in ("people", "sources", "patch", "holds"):
            yield from (e for e in self.edits if isinstance(e, Add) and e.path == path)

    def _of(self, name: str) -> Source | None:
        """The source of the rig that a name means: letter by letter, else by its plain words."""
        return self.sources.get(_same(name)) or self.sources.get(f"~{plain_words(name)}")

    def _player(self, name: str) -> str | None:
        """The person of this name, added where nobody has it."""
        if not name:
            return None
        words = _same(name)
        if words not in self.people:
            (id_,) = short_words([name], [*self.rig.people, *self.people.values()])
            self.people[words] = id_
            self.edits.append(Add("people", {"id": id_, "name": name}))
            self.added.append(f"{name}, a person")
        return self.people[words]

    def _new(self, id_: str, one: Input) -> None:
        self.edits.append(Add("sources", _source(id_, one, self._player(one.player))))
        self.added.append(one.name)
        row = _row(id_, one)
        clash = self._clash(one.channels)
        if clash:
            row.pop("channel")
            self.differs.append(f"{one.name}: {clash}, so it got no channel")
        elif one.channels:
            self.taken.update(dict.fromkeys(range(one.channels[0], one.channels[1] + 1), one.name))
        if len(row) > 1:
            self.edits.append(Add("patch", row))

    def _clash(self, channels: tuple[int, int] | None) -> str:
        for number in range(channels[0], channels[1] + 1) if channels else ():
            if number in self.taken:
                who = self.taken[number]
                return f"channel {number} is {who}" if who else f"channel {number} is kept free"
        return ""

    def _there(self, there: Source, one: Input) -> None:
        """A source that the rig has: fill what it leaves out, tell what it says otherwise."""
        path = f"sources/{there.id}"
        wanted = _source(there.id, one, None)
        if there.stereo != one.stereo:
            self.differs.append(f"{there.name}: the rig has it {_width(there.stereo)}")
        own = {"label": there.label, "stand": there.stand, "alternative": there.alternative}
        for key, says in own.items():
            text = getattr(one, key)
            if text and not says:
                self.edits.append(Set(f"{path}/{key}", text))
                self.filled.append(f"{there.name}: {key}")
            elif text and _same(text) != _same(says):
                self.differs.append(f'{there.name}: {key} stays "{says}", the sheet has "{text}"')
        if one.mic and there.mic is None and there.di is None and there.start is None:
            key = "di" if "di" in wanted else "mic"
            self.edits.append(Set(f"{path}/{key}", one.mic))
            self.filled.append(f"{there.name}: {key}")
        if one.player and there.player is None:
            self.edits.append(Set(f"{path}/player", self._player(one.player)))
            self.filled.append(f"{there.name}: player")
        elif one.player and there.player is not None:
            name = self.rig.people[there.player].name
            if _same(name) != _same(one.player):
                self.differs.append(f"{there.name}: the rig has {name}, the sheet {one.player}")
        note = " \u00b7 ".join(one.notes)
        if note and note not in there.note:
            whole = f"{there.note} \u00b7 {note}" if there.note else note
            if len(whole) <= NOTE_MOST:
                self.edits.append(Set(f"{path}/note", whole))
                self.filled.append(f"{there.name}: note")
            else:
                self.differs.append(f"{there.name}: its note is full")
        self._number(there, one)

    def _number(self, there: Source, one: Input) -> None:
        if one.channels is None:
            return
        row = self.rig.rows.get(there.id)
        said = _run(one.channels)
        if row is None and not self._clash(one.channels):
            self.edits.append(Add("patch", _row(there.id, one)))
            self.filled.append(f"{there.name}: channel")
        elif row is None or row.channel is None:
            why = self._clash(one.channels) or "its place in the patch names no channel"
            self.differs.append(f"{there.name}: the sheet has channel {said}; {why}")
        elif (row.channel.first, row.channel.last) != one.channels:
            self.differs.append(
                f"{there.name}: stays at channel {row.channel}, the sheet has {said}"
            )

    def _free(self, kept: Free) -> None:
        if not self._clash(kept.channels):
            self.edits.append(Add("holds", _hold(kept)))
            self.added.append(f"channel {_run(kept.channels)} kept free")


def _same(text: str) -> str:
    """A text without capitals and doubled spaces."""
    return " ".join(text.casefold().split())


def _known(rig: Rig) -> dict[str, Source]:
    """The sources by name; behind a tilde by label or by plain words where that means only one."""
    loose: dict[str, list[Source]] = {}
    for source in rig.file.sources:
        for words in {plain_words(source.name), plain_words(source.label)} - {""}:
            loose.setdefault(words, []).append(source)
    found = {f"~{words}": those[0] for words, those in loose.items() if len(those) == 1}
    return found | {_same(source.name): source for source in rig.file.sources}


def _width(stereo: bool) -> str:
    return "in stereo" if stereo else "in mono"


def numbers_stay(before: Rig, after: Rig) -> Sequence[str]:
    """The sources whose channel is another after an import: there must be none."""
    return [
        row.source
        for row in before.file.patch
        if row.channel is not None
        and (now := after.rows.get(row.source)) is not None
        and now.channel != row.channel
    ]
