"""Cards to laminate: one for each person, and the addresses of the boxes."""

from collections.abc import Iterator

from rigproof.checks.rule import View
from rigproof.network.addresses import USUAL_NETMASK, addressed
from rigproof.patch import PatchLists
from rigproof.rig.band import Person
from rigproof.showbook.labels import codes
from rigproof.showbook.labels.content import Asked, Card
from rigproof.signal import words

_ROWS = 8  # that are still read at arm's length on a card of this size


def cards(view: View, asked: Asked) -> Iterator[Card]:
    """The person cards in the order of the file, then the addresses."""
    for person in view.rig.file.people:
        if not asked.about or person.id in asked.about:
            yield _person(view, asked, person)
    if not asked.about or "addresses" in asked.about:
        yield from _addresses(view, asked)


def _person(view: View, asked: Asked, person: Person) -> Card:
    say = asked.edition.say
    plugs = list(_plugs(view, asked, person))
    rows = [(say("labels.plug") if not place else "", one) for place, one in enumerate(plugs)]
    ears = person.ears.plug if person.ears else None
    if ears is not None:
        rows.append((say("labels.ears"), words.place(view.rig, str(ears), asked.edition.language)))
    for mix in view.rig.file.mixes:
        if person.id in mix.listeners:
            name = mix.name or mix.id
            bus = say("labels.bus", n=mix.bus) if mix.bus else _on(view, mix.on)
            rows.append((say("labels.mix"), f"{name}, {bus}" if bus else name))
    contact = view.rig.about.contact
    return Card(
        id=f"card-person-{person.id}",
        subject=person.id,
        anchor=f"person-{person.id}",
        name=person.name,
        below=person.plays,
        band=view.rig.about.band or view.rig.about.name,
        address=codes.address(view.rig.about),
        rows=tuple(rows),
        foot=say("paper.call", who=", ".join(filter(None, (contact.name, contact.phone))))
        if contact
        else "",
    )


def _plugs(view: View, asked: Asked, person: Person) -> Iterator[str]:
    """What this person plugs in, and where; both sides of a pair in one line."""
    rows = dict.fromkeys(
        step.row for step in PatchLists(view.rig).walk if step.source.player == person.id
    )
    for row in rows:
        place = words.place(view.rig, str(row.plug), asked.edition.language)
        yield f"{view.rig.sources[row.source].name}: {place}"


def _on(view: View, gear: str | None) -> str:
    return view.rig.box_names[gear] if gear is not None else ""


def _addresses(view: View, asked: Asked) -> Iterator[Card]:
    found = addressed(view.rig)
    say = asked.edition.say
    control = view.rig.file.control
    wifi = say("labels.wifi", band=control.band) if control and control.band else ""
    for start in range(0, len(found), _ROWS):
        some = found[start : start + _ROWS]
        masks = dict.fromkeys(one.netmask or USUAL_NETMASK for one in some)
        yield Card(
            id=f"card-addresses-{start // _ROWS + 1}",
            subject="addresses",
            anchor="",
            name=say("labels.addresses"),
            below=say("labels.netmask", mask=", ".join(masks)),
            band=view.rig.about.band or view.rig.about.name,
            address="",
            rows=tuple((one.address, view.rig.box_names[one.gear.id]) for one in some),
            foot=wifi,
        )
