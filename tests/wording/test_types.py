"""The gear of the library is named in every language of the papers."""

from rigproof.rigfile.library import library_type, type_ids
from rigproof.wording.phrases import subject


def test_every_kind_of_gear_has_its_words() -> None:
    names = {f"types.{name}": library_type(name).name for name in type_ids()}
    assert {key: said["en"] for key, said in subject("types").items()} == names
