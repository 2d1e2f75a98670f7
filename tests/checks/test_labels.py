from tests.checks.looking import findings, says

MIXER = "gear: [{id: mixer, name: Mixer, type: mixer-rack-12}]\n"


def sources(*entries: str) -> str:
    listed = "".join(
        f"  - {{id: s{n}, {entry}, family: keys, mic: mic-vocal-dynamic}}\n"
        for n, entry in enumerate(entries, 1)
    )
    rows = "".join(
        f"  - {{source: s{n}, plug: mixer.in.{n}, channel: {n}}}\n"
        for n in range(1, len(entries) + 1)
    )
    return f"{MIXER}sources:\n{listed}patch:\n{rows}"


def test_twelve_characters_fit_and_thirteen_do_not() -> None:
    assert says("label.too-long", sources("name: A, label: abcdefghijkl")) == []
    found = findings("label.too-long", sources("name: A, label: abcdefghijklm"))
    assert [(f.found, f.limit) for f in found] == [(13.0, 12.0)]


def test_the_tightest_device_counts_and_letters_of_any_script_are_one_each() -> None:
    """A personal mixer shows eight characters; these are eight, and then nine."""
    text = """
gear:
  - {id: mixer, type: mixer-rack-24}
  - {id: pm, name: Pult, type: personal-mixer-16}
sources: [{id: k, name: Keys, family: keys}]
feeds: [{id: f, port: mixer.feed, slots: [{slot: 1, label: 鍵盤楽器の右手側, takes: [k]}]}]
"""
    assert says("label.too-long", text) == []
    assert says("label.too-long", text.replace("右手側", "右手側奏")) == [
        'The label "鍵盤楽器の右手側奏" has 9 characters; Pult shows 8.'
    ]


def test_names_without_short_form_are_told_once_for_each_device() -> None:
    text = sources("name: Grand piano low strings", "name: Grand piano high strings")
    assert says("label.no-short-form", text) == [
        "Mixer shows 12 characters; Grand piano low strings and Grand piano high strings have no "
        "short label."
    ]


def test_names_that_look_alike_once_cut_off() -> None:
    text = sources("name: Grand piano low strings", "name: Grand piano high strings")
    assert says("label.doubled", text) == [
        'Grand piano low strings and Grand piano high strings both read "Grand piano" on Mixer.'
    ]


def test_a_group_and_its_part_share_no_lie() -> None:
    """A slot may be called by the group it carries a part of, or by its first source."""
    text = """
gear: [{id: mixer, type: mixer-rack-24}]
sources:
  - {id: k, name: Kick, family: drums}
  - {id: s, name: Snare, family: drums}
  - {id: g, name: Guitar, family: guitar}
groups: [{id: drums, name: Drums, sources: [k, s]}]
feeds: [{id: f, port: mixer.feed, slots: [{slot: 1, name: NAME, takes: [TAKES]}]}]
"""

    def told(name: str, takes: str) -> int:
        return len(says("slot.label-lies", text.replace("NAME", name).replace("TAKES", takes)))

    assert told("Drums", "drums") == told("Drums", "k") == told("Kick", "drums") == 0
    assert told("Whatever", "g") == 0
    assert told("Drums", "g") == told("guitar", "drums") == told("Kick", "s") == 1
