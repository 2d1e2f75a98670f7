"""What every entry of a rig file has: a place in the file, and names it defines or uses."""

from typing import Annotated, Any

import msgspec

from rigproof.rig.where import NOWHERE, Where

# No text of a rig can hold this character, so the reader hands places to the model under it.
PLACE_KEY = "\uffff"


class Spot(dict[str, Any]):
    """A mapping read from a file; under `PLACE_KEY` it remembers where it stood."""

    def __init__(self, where: Where = NOWHERE) -> None:
        super().__init__()
        self[PLACE_KEY] = where

    @property
    def where(self) -> Where:
        where = self[PLACE_KEY]
        assert isinstance(where, Where)
        return where


class Entry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Immutable; refuses unknown keys; knows where it stands."""

    # A factory, because the maker of the schema writes out plain defaults and knows no places.
    where: Where = msgspec.field(default_factory=lambda: NOWHERE, name=PLACE_KEY)


class Defines(msgspec.Struct, frozen=True):
    """Marks the field whose text is the name of a new thing of this kind."""

    kind: str


class NameOf:
    """Marks a field that must hold the name of an existing thing of one of these kinds."""

    __slots__ = ("kinds",)

    def __init__(self, *kinds: str) -> None:
        self.kinds = kinds


# Short words that fit in a socket's name; display names are free text.
Id = Annotated[str, msgspec.Meta(pattern=r"^[a-z0-9][a-z0-9-]*$(?!\n)", max_length=48)]

PersonId = Annotated[Id, Defines("person")]
SourceId = Annotated[Id, Defines("source")]
GroupId = Annotated[Id, Defines("group")]
GearId = Annotated[Id, Defines("gear")]
TypeId = Annotated[Id, Defines("gear type")]
LeadId = Annotated[Id, Defines("lead")]
MixId = Annotated[Id, Defines("mix")]
FeedId = Annotated[Id, Defines("feed")]
StreamId = Annotated[Id, Defines("stream")]
RadioId = Annotated[Id, Defines("radio link")]
VenueId = Annotated[Id, Defines("venue")]
ShowId = Annotated[Id, Defines("show")]
BagId = Annotated[Id, Defines("bag")]
SceneId = Annotated[Id, Defines("scene")]

PersonName = Annotated[Id, NameOf("person")]
SourceName = Annotated[Id, NameOf("source")]
SourceOrGroup = Annotated[Id, NameOf("source", "group")]
GearName = Annotated[Id, NameOf("gear")]
TypeName = Annotated[Id, NameOf("gear type")]
VenueName = Annotated[Id, NameOf("venue")]
AnyName = Annotated[Id, NameOf("person", "source", "gear", "mix")]

Text = Annotated[str, msgspec.Meta(max_length=10_000)]
Label = Annotated[str, msgspec.Meta(max_length=64)]
