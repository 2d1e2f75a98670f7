"""Edits as small operations on the text of a rig file; whatever they do not name stays as it is.

Each edit is turned into the characters it must replace, found over the tree of the text, and into
the data the file must then say. The new text is read again: if it says anything else, the edit is
refused. So comments, quotes, spacing and order survive, and no edit can garble a file unseen.
Comments on lines of their own stay where they are; only moving an entry takes along those that
stand directly above it, unless it is the first of its list, where they are more likely a heading.
"""

import copy
import re
from collections.abc import Sequence
from typing import Any, TypeAlias

import msgspec
import yaml

from rigproof.rig.where import RigError, RigErrors, Where
from rigproof.rigfile import rename, yaml12
from rigproof.rigfile.tree import (
    BOM,
    Member,
    NoSuchPlace,
    Path,
    Tree,
    in_brackets,
    is_list,
    plain,
    position,
    quotes_of,
    same,
    steps,
)
from rigproof.rigfile.written import (
    NoText,
    Plain,
    block,
    entry_lines,
    fits_inline,
    inline,
    item_lines,
    key_text,
)


class Set(msgspec.Struct, frozen=True):
    """Give the key at `path` a value; the key, and maps above it, are added where they lack."""

    path: str
    value: Plain


class Add(msgspec.Struct, frozen=True):
    """Put an entry at the end of the list at `path`, or before or after one of its entries."""

    path: str
    value: Plain
    before: str = ""
    after: str = ""


class Remove(msgspec.Struct, frozen=True):
    """Take out the key or the list entry at `path`."""

    path: str


class Move(msgspec.Struct, frozen=True):
    """Put a list entry before or after another entry of its list."""

    path: str
    before: str = ""
    after: str = ""


class Rename(msgspec.Struct, frozen=True):
    """Give the thing defined at `path` another name, there and wherever the file names it."""

    path: str
    to: str


Edit: TypeAlias = Set | Add | Remove | Move | Rename


class _Splice(msgspec.Struct, frozen=True):
    """Characters to take out and characters to put in."""

    start: int
    end: int
    text: str


def apply(text: str, edits: Sequence[Edit], file: str = "rig.yaml") -> str:
    """The text of a rig file after these edits, one after the other.

    Raises:
        RigErrors: the text cannot be read, or an edit cannot be made; nothing is half done.
    """
    _, faults = yaml12.read(text.encode("utf-8", "surrogatepass"), file)
    if faults:
        raise RigErrors(faults)
    bom = BOM if text.startswith(BOM) else ""
    text = text.removeprefix(BOM)
    pending = list(edits)
    while pending:
        try:
            text, done = _apply_some(text, pending)
        except (NoSuchPlace, NoText, yaml.YAMLError) as why:
            raise RigErrors([_refusal(pending[0], str(why), file)]) from why
        pending = pending[done:]
    return bom + text


def _refusal(edit: Edit, why: str, file: str) -> RigError:
    name = type(edit).__name__.lower()
    return RigError(
        at=Where(file), says=f'cannot {name} "{edit.path}": {why}.', fix="Nothing was changed."
    )


def _apply_some(text: str, edits: Sequence[Edit]) -> tuple[str, int]:
    """Make the first edit, and those behind it that do not touch each other: settings, additions.

    Additions to the end of one list are made together.
    """
    tree = Tree(text)
    data = plain(tree.root)
    done = _added_together(edits)
    if done > 1:
        values = [edit.value for edit in edits[:done] if isinstance(edit, Add)]
        splices = _append(tree, edits[0].path, values, data)
    else:
        splices = _splices(tree, edits[0], data)
    if isinstance(edits[0], Set):
        for edit in edits[1:]:
            if not isinstance(edit, Set):
                break
            trial = copy.copy(data)
            try:
                # Data are changed only along the path, so a refused trial leaves them whole.
                more = _set(tree, edit, trial)
            except (NoSuchPlace, NoText):
                break
            if any(s.start <= m.end and m.start <= s.end for s in splices for m in more):
                break
            data = trial
            splices += more
            done += 1
    new = _spliced(text, splices)
    try:
        said = plain(Tree(new).root)
    except yaml.YAMLError:
        said = None
    if not same(said, data):
        raise NoText(
            "the lines around it are written in a way this edit would garble; edit by hand"
        )
    return new, done


def _spliced(text: str, splices: Sequence[_Splice]) -> str:
    parts, at = [], 0
    for splice in sorted(splices, key=lambda s: (s.start, s.end)):
        parts += [text[at : splice.start], splice.text]
        at = splice.end
    return "".join([*parts, text[at:]])


def _splices(tree: Tree, edit: Edit, data: Any) -> list[_Splice]:
    match edit:
        case Set():
            return _set(tree, edit, data)
        case Add():
            return _add(tree, edit, data)
        case Remove():
            return _remove(tree, edit, data)
        case Move():
            return _move(tree, edit, data)
        case Rename():
            return _rename(tree, edit, data)


def _reach(tree: Tree, path: Path, data: Any) -> tuple[yaml.Node, Any, int]:
    """The deepest value that a path reaches in the file, its data, and the steps taken to it.

    The data on the way are copied, level by level, so that changing them leaves the old ones.
    """
    node = tree.root
    for n, step in enumerate(path):
        try:
            member = tree.member(node, step, path[:n])
        except NoSuchPlace:
            if is_list(node):
                raise
            return node, data, n
        key = _key(tree, node, member)
        data[key] = copy.copy(data[key])
        node, data = member.value, data[key]
    return node, data, len(path)


def _key(tree: Tree, node: yaml.Node, member: Member) -> Any:
    if not is_list(node):
        return member.key
    return next(n for n, m in enumerate(tree.members(node)) if m.value is member.value)


def _plain_data(value: Plain) -> Any:
    """A value with lists, dicts and plain numbers throughout, to compare with what is read."""
    if isinstance(value, str) or value is None or isinstance(value, bool | int):
        return str(value) if isinstance(value, str) else value
    if isinstance(value, float):
        return float(value)
    if isinstance(value, dict):
        return {key: _plain_data(part) for key, part in value.items()}
    return [_plain_data(part) for part in value]


# --- set ---------------------------------------------------------------------------------------


def _set(tree: Tree, edit: Set, data: Any) -> list[_Splice]:
    path = steps(edit.path)
    parent, part, reached = _reach(tree, path[:-1], data)
    value = edit.value
    if reached < len(path) - 1:
        if not isinstance(parent, yaml.MappingNode):
            raise NoSuchPlace(f"{'/'.join(path[:reached])} holds no keys")
        for key in reversed(path[reached + 1 :]):
            value = {key: value}
    key = path[reached]
    if not is_list(parent) and not isinstance(parent, yaml.MappingNode):
        return _set_empty(tree, parent, path[:reached], key, value, data)
    try:
        member = tree.member(parent, key, path[:reached])
    except NoSuchPlace:
        if is_list(parent):
            raise
        part[key] = _plain_data(value)
        return [_new_key(tree, parent, key, value)]
    part[_key(tree, parent, member)] = _plain_data(value)
    return [_replaced(tree, parent, member, value)]


def _set_empty(
    tree: Tree, node: yaml.Node, above: Path, key: str, value: Plain, data: Any
) -> list[_Splice]:
    """A key below a key that has no value yet."""
    if not above or plain(node) is not None:
        raise NoSuchPlace(f"{'/'.join(above)} holds no keys")
    return _set(tree, Set("/".join(above), {key: value}), data)


def _replaced(tree: Tree, parent: yaml.Node, member: Member, value: Plain) -> _Splice:
    node = member.value
    start, end = int(node.start_mark.index), tree.end(node)
    if start == end:  # nothing stands behind the colon or the dash
        if not in_brackets(parent) and not fits_inline(value, LINE_START):
            indent = tree.line_start(member.start)
            inner = member.start - indent + 2
            lines = [
                " " * inner + line if n == 0 else line for n, line in enumerate(block(value, inner))
            ]
            at = tree.line_end(start)
            return _Splice(at, at, "".join(tree.newline + line for line in lines))
        return _Splice(start, end, f" {inline(value)}" + (" " if in_brackets(parent) else ""))
    if isinstance(node, yaml.ScalarNode):
        comment = ""
        if node.style in ("|", ">"):
            found = re.search(r" +#.*", tree.text[start : tree.line_end(start)])
            comment = found[0] if found else ""
        quote = node.style if node.style in ("'", '"') else ""
        return _Splice(start, end, inline(value, quote) + comment)
    in_block = not in_brackets(node) and not in_brackets(parent)
    if in_block and value and isinstance(value, Sequence | dict) and not isinstance(value, str):
        column = start - tree.line_start(start)
        if isinstance(value, dict) == isinstance(node, yaml.MappingNode):
            return _Splice(start, end, tree.newline.join(block(value, column)))
    if in_block and not is_list(parent):
        # Back on the line of its key, which the old value had left.
        return _Splice(_behind_colon(tree, parent, node), end, f" {inline(value)}")
    return _Splice(start, end, inline(value))


LINE_START = 4


def _behind_colon(tree: Tree, parent: yaml.Node, value: yaml.Node) -> int:
    key = next(k for k, v in parent.value if v is value)
    return tree.text.index(":", key.end_mark.index) + 1


def _new_key(tree: Tree, parent: yaml.Node, key: str, value: Plain) -> _Splice:
    members = tree.members(parent)
    if in_brackets(parent):
        entry = f"{key_text(key)}: {inline(value)}"
        return _into_flow(tree, parent, members, len(members), entry)
    column = members[0].start - tree.line_start(members[0].start)
    at = tree.line_end(members[-1].end)
    lines = entry_lines(key, value, column)
    return _Splice(at, at, "".join(tree.newline + " " * column + line for line in lines))


def _into_flow(
    tree: Tree, parent: yaml.Node, members: Sequence[Member], at: int, entry: str
) -> _Splice:
    """A new member between brackets, as the `at`-th from 0."""
    if not members:
        inside = int(parent.start_mark.index) + 1
        return _Splice(inside, inside, entry)
    if at < len(members):
        start = members[at].start
        return _Splice(start, start, f"{entry}, ")
    end = members[-1].end
    # A key without a value needs the space, or the comma would join its colon.
    space = " " if tree.text[end - 1 : end] == ":" else ""
    return _Splice(end, end, f"{space}, {entry}")


# --- add ---------------------------------------------------------------------------------------


def _added_together(edits: Sequence[Edit]) -> int:
    """How many of the first edits put an entry at the end of the same list."""
    first = edits[0]
    together = 0
    for edit in edits:
        if not isinstance(edit, Add) or edit.before or edit.after or edit.path != first.path:
            break
        together += 1
    return max(1, together)


def _append(tree: Tree, path: str, values: Sequence[Plain], data: Any) -> list[_Splice]:
    """Several entries at the end of a list, one after the other."""
    node = tree.root
    try:
        node = tree.find(steps(path))
    except NoSuchPlace:
        return _set(tree, Set(path, list(values)), data)
    if isinstance(node, yaml.ScalarNode) and plain(node) is None:
        return _set(tree, Set(path, list(values)), data)
    splices = [splice for value in values for splice in _add(tree, Add(path, value), data)]
    # Each was made for the same old end of the list: they follow one another there.
    _, part, _ = _reach(tree, steps(path), data)
    part[-len(values) :] = reversed(part[-len(values) :])
    between = ", " if in_brackets(node) and not tree.members(node) else ""
    text = between.join(splice.text for splice in splices)
    return [_Splice(splices[0].start, splices[0].end, text)]


def _add(tree: Tree, edit: Add, data: Any) -> list[_Splice]:
    path = steps(edit.path)
    node, part, reached = _reach(tree, path, data)
    if reached < len(path) or (isinstance(node, yaml.ScalarNode) and plain(node) is None):
        if edit.before or edit.after:
            raise NoSuchPlace(f"{edit.path} has no entries yet")
        return _set(tree, Set(edit.path, [edit.value]), data)
    if not is_list(node):
        raise NoSuchPlace(f"{edit.path} is not a list; set its keys instead")
    members = tree.members(node)
    at = _target([m.key for m in members], edit.before, edit.after, path)
    part.insert(at, _plain_data(edit.value))
    if in_brackets(node):
        return [_into_flow(tree, node, members, at, inline(edit.value))]
    like = members[at] if edit.before else members[at - 1]
    column = like.start - tree.line_start(like.start)
    dash = "-" + " " * max(1, int(like.value.start_mark.index) - like.start - 1)
    if "\n" in tree.text[like.start : int(like.value.start_mark.index)] or len(dash) > 9:
        dash = "- "
    is_short = isinstance(like.value, yaml.ScalarNode) or in_brackets(like.value)
    flow = bool(is_short) and fits_inline(edit.value, column + len(dash))
    lines = item_lines(edit.value, column, dash, flow=flow)
    pad = " " * column
    if at < len(members):
        start = _slot(tree, node, members, at)[0]
        text = (tree.newline + pad).join(lines) + tree.newline + pad
        return [_Splice(start, start, text)]
    end = tree.line_end(members[-1].end)
    return [_Splice(end, end, "".join(tree.newline + pad + line for line in lines))]


def _target(names: Sequence[str], before: str, after: str, path: Path) -> int:
    """The number that an entry gets in a list of these names."""
    if before:
        return position(names, before, True, path)
    return position(names, after, True, path) + 1 if after else len(names)


# --- remove ------------------------------------------------------------------------------------


def _remove(tree: Tree, edit: Remove, data: Any) -> list[_Splice]:
    path = steps(edit.path)
    parent, part, reached = _reach(tree, path[:-1], data)
    if reached < len(path) - 1:
        raise NoSuchPlace(f'{"/".join(path[:reached]) or "the file"} has no "{path[reached]}"')
    member = tree.member(parent, path[-1], path[:-1])
    members = tree.members(parent)
    number = next(n for n, m in enumerate(members) if m.value is member.value)
    del part[number if is_list(parent) else member.key]
    if in_brackets(parent):
        return [_out_of_flow(tree, parent, members, number)]
    if len(members) == 1:
        return _emptied(tree, parent, member, path)
    line = tree.line_start(member.start)
    if tree.text[line : member.start].strip():
        # The first key behind a dash: the next one takes its place.
        following = members[number + 1].start
        rest = tree.text[member.end : following]
        end = following if not rest.strip() else member.end
        return [_Splice(member.start, end, "")]
    end = tree.after_line(member.end)
    if end == tree.line_end(member.end) and line:  # the last line, and it has no line ending
        line -= 2 if tree.text[line - 2 : line] == "\r\n" else 1
    return [_Splice(line, end, "")]


def _emptied(tree: Tree, parent: yaml.Node, member: Member, path: Path) -> list[_Splice]:
    """The last member of a block goes: brackets say that nothing is there."""
    brackets = "[]" if is_list(parent) else "{}"
    above = tree.find(path[:-2]) if len(path) > 1 else None
    if not isinstance(above, yaml.MappingNode):
        return [_Splice(member.start, member.end, brackets)]
    colon = _behind_colon(tree, above, parent)
    line, end = tree.line_start(member.start), tree.after_line(member.end)
    if line < colon:
        return [_Splice(member.start, member.end, brackets)]
    if end == tree.line_end(member.end):
        line -= 2 if tree.text[line - 2 : line] == "\r\n" else 1
    return [_Splice(colon, colon, f" {brackets}"), _Splice(max(line, colon), end, "")]


def _out_of_flow(tree: Tree, parent: yaml.Node, members: Sequence[Member], number: int) -> _Splice:
    member = members[number]
    if number + 1 < len(members):
        following = members[number + 1].start
        gap = tree.text[member.end : following]
        comma = next(c for c in tree.commas if c >= member.end)
        return _Splice(member.start, comma + 1 if "#" in gap else following, "")
    if number:
        before = members[number - 1].end
        if "#" not in tree.text[before : member.start]:
            return _Splice(before, member.end, "")
        return _Splice(member.start, member.end, "")  # the comma before it may stay
    closing = int(parent.end_mark.index)
    trailing = [c for c in tree.commas if member.end <= c < closing]
    return _Splice(member.start, trailing[0] + 1 if trailing else member.end, "")


# --- move --------------------------------------------------------------------------------------


def _move(tree: Tree, edit: Move, data: Any) -> list[_Splice]:
    path = steps(edit.path)
    parent, part, reached = _reach(tree, path[:-1], data)
    if reached < len(path) - 1 or not is_list(parent):
        raise NoSuchPlace(f"{'/'.join(path[:-1])} is not a list")
    if bool(edit.before) == bool(edit.after):
        raise NoSuchPlace("say before which entry or after which it belongs")
    members = tree.members(parent)
    names = [m.key for m in members]
    old = position(names, path[-1], True, path[:-1])
    new = _target(names, edit.before, edit.after, path[:-1])
    new -= new > old
    part.insert(new, part.pop(old))
    order = list(range(len(members)))
    order.insert(new, order.pop(old))
    # The entries change places; what stands between the places, such as blank lines, stays.
    slots = [_slot(tree, parent, members, n) for n in range(len(members))]
    return [
        _Splice(slots[n][0], slots[n][1], tree.text[slice(*slots[source])])
        for n, source in enumerate(order)
        if n != source
    ]


def _slot(tree: Tree, parent: yaml.Node, members: Sequence[Member], number: int) -> tuple[int, int]:
    member = members[number]
    if in_brackets(parent):
        return member.start, member.end
    start = member.start
    column = start - tree.line_start(start)
    while number:
        line = tree.line_start(tree.line_start(start) - 1)
        text = tree.text[line : tree.line_start(start)]
        if line <= members[number - 1].end or not text.startswith(" " * column + "#"):
            break
        start = line + column
    return start, tree.line_end(member.end)


# --- rename ------------------------------------------------------------------------------------


def _rename(tree: Tree, edit: Rename, data: Any) -> list[_Splice]:
    node = tree.find(steps(edit.path))
    found = rename.places(tree, node, edit.to)
    splices = []
    for place in found:
        written = inline(place.text, quotes_of(place.node))
        splices.append(_Splice(int(place.node.start_mark.index), tree.end(place.node), written))
    texts = {id(place.node): place.text for place in found}
    data.clear()
    data.update(_renamed(tree.root, texts))
    for key in rename.unwritten(tree, node):
        _reach(tree, steps(edit.path), data)[1][key] = edit.to
        splices.append(_new_key(tree, node, key, edit.to))
    return splices


def _renamed(node: yaml.Node, texts: dict[int, str]) -> Any:
    if id(node) in texts:
        return texts[id(node)]
    if isinstance(node, yaml.MappingNode):
        return {str(k.value): _renamed(v, texts) for k, v in node.value}
    if is_list(node):
        return [_renamed(item, texts) for item in node.value]
    return plain(node)
