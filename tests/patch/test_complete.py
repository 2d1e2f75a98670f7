"""Laws of the completed patch, on bands drawn at random, and the rigs that ship."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.checks.rule import look
from rigproof.patch import PatchLists, Planned, complete
from rigproof.rig import Rig
from rigproof.rig.lanes import sockets
from rigproof.rig.ref import Numbers
from rigproof.rigfile.load import parse
from tests.bands import WHOLE, plain, seen, stated, whole, written

FAMILIES = ("drums", "bass", "voices", "keys", "click", "talk")


@st.composite
def bands(draw: st.DrawFn) -> tuple[str, str, str]:
    """Sources, patch rows and holds, as text; a small rack that may be too small for them."""
    count = draw(st.integers(1, 9))
    sources, rows = [], []
    numbers = draw(st.permutations(range(1, 17)))
    plugs = draw(st.permutations(range(1, 17)))
    for n in range(count):
        stereo = draw(st.booleans())
        family = draw(st.sampled_from(FAMILIES))
        mic = "stereo: true, mic: mic-small-condenser" if stereo else "mic: mic-vocal-dynamic"
        sources.append(f"  - {{id: s{n}, name: S{n}, family: {family}, {mic}}}")
        parts = []
        if draw(st.booleans()) and not stereo:
            parts.append(f"channel: {numbers[n]}")
        if draw(st.booleans()) and not stereo:
            parts.append(
                f"plug: split.in.{plugs[n]}" if plugs[n] <= 8 else f"plug: mixer.in.{plugs[n]}"
            )
        if parts:
            rows.append(f"  - {{source: s{n}, {', '.join(parts)}}}")
    held = draw(
        st.sampled_from(("", "holds: [{channels: 15-16, sockets: mixer.in.12, why: a guest}]"))
    )
    return "\n".join(sources), "\n".join(rows), held


RACK = """
gear: [{id: split, type: splitter-transformer-8}, {id: mixer, type: mixer-rack-16}]
leads: [{id: ours, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}]
"""


def rig_of(band: tuple[str, str, str], more: str = "") -> Rig:
    sources, rows, held = band
    patch = f"patch:\n{rows}\n" if rows else ""
    return stated(f"sources:\n{sources}\n{more}\n{patch}{held}\n{RACK}")


def channels(plan: Planned) -> dict[str, Numbers]:
    return {row.source: row.channel for row in plan.rig.file.patch if row.channel is not None}


def plugged(plan: Planned) -> list[str]:
    return [
        socket.key
        for row in plan.rig.file.patch
        if row.plug is not None
        for socket in sockets(plan.rig.gear_types, row.plug, row.where)
    ]


@given(bands())
@settings(max_examples=60, deadline=None)
def test_laws_of_completing(band: tuple[str, str, str]) -> None:
    rig = rig_of(band)
    plan = complete(rig)
    given_ = channels(plan)

    for row in rig.file.patch:  # stated numbers and plugs never move
        kept = plan.rig.rows[row.source]
        assert row.channel is None or kept.channel == row.channel
        assert row.plug is None or kept.plug == row.plug
    assert len(plan.rig.rows) == len(plan.rig.file.patch) == len(rig.sources)

    every = [n for numbers in given_.values() for n in numbers]
    assert len(set(every)) == len(every)  # no number is given twice
    assert len(set(plugged(plan))) == len(plugged(plan))  # no socket is used twice
    for name, numbers in given_.items():
        planned_here = name not in rig.rows or rig.rows[name].channel is None
        if rig.sources[name].stereo and planned_here:
            assert (numbers.first % 2, len(numbers)) == (1, 2)  # odd and even
    if rig.file.holds:
        stated_channels = {n for row in rig.file.patch for n in row.channel or ()}
        assert not ({15, 16} - stated_channels) & set(every)
        assert "mixer.in.12" not in set(plugged(plan)) - {str(r.plug) for r in rig.file.patch}


@given(bands())
@settings(max_examples=30, deadline=None)
def test_completing_twice_changes_nothing(band: tuple[str, str, str]) -> None:
    once = complete(rig_of(band))
    twice = complete(once.rig)
    assert twice.rig.file == once.rig.file
    assert twice.reasons == ()


@given(bands(), st.sampled_from(FAMILIES))
@settings(max_examples=40, deadline=None)
def test_a_new_source_never_renumbers_the_rest(band: tuple[str, str, str], family: str) -> None:
    """Once the numbers are written down, whoever joins takes what is left."""
    before = complete(rig_of(band))
    rows = "\n".join(
        f"  - {{source: {row.source}"
        + (f", channel: {row.channel}" if row.channel else "")
        + (f", plug: {row.plug}" if row.plug else "")
        + "}"
        for row in before.rig.file.patch
    )
    more = f"  - {{id: guest, name: Guest, family: {family}, mic: mic-vocal-dynamic}}"
    after = complete(rig_of((band[0], rows, band[2]), more))
    assert channels(before).items() <= channels(after).items()


@given(bands())
@settings(max_examples=30, deadline=None)
def test_every_reason_names_a_real_thing(band: tuple[str, str, str]) -> None:
    rig = rig_of(band)
    plan = complete(rig)
    places = {f"channel {n}" for n in channels(plan).values()}
    places |= {str(row.plug) for row in plan.rig.file.patch}
    for reason in plan.reasons:
        assert reason.subject in rig.sources
        if reason.planned == "48 V on":
            assert plan.rig.rows[reason.subject].phantom == "on"
        else:
            assert reason.planned in places
        assert reason.because


@pytest.mark.parametrize(
    ("microphone", "stated", "planned"),
    [
        ("mic-small-condenser", "", "on"),
        ("mic-small-condenser", 'phantom: "off"', "off"),  # what is stated is kept
        ("mic-instrument-dynamic", "", None),
    ],
)
def test_48_v_is_planned_where_it_must_be(
    microphone: str, stated: str, planned: str | None
) -> None:
    rig = parse(
        f"""
format: 1
rig: {{name: One line}}
sources: [{{id: hat, name: Hi-hat, family: drums, mic: {microphone}}}]
gear: [{{id: mixer, type: mixer-rack-16}}]
patch: [{{source: hat, plug: mixer.in.3, {stated}}}]
""".replace(", }", "}").encode()
    )
    assert complete(rig).rig.rows["hat"].phantom == planned


@given(bands())
@settings(max_examples=40, deadline=None)
def test_one_number_all_the_way_where_it_is_free(band: tuple[str, str, str]) -> None:
    rig = rig_of(band)
    plan = complete(rig)
    taken = {n for row in rig.file.patch for n in row.channel or ()}
    taken |= {n for hold in rig.file.holds for n in hold.channels or ()}
    for reason in plan.reasons:
        row = plan.rig.rows[reason.subject]
        if reason.because.startswith("the number of its socket") and row.plug and row.channel:
            assert row.plug.numbers is not None
            assert row.plug.numbers[0] == row.channel.first
            assert row.channel.first not in taken


def test_numbers_go_by_the_order_of_the_trade() -> None:
    """Common practice, no source: drums first, voices behind the band, click and talk last."""
    view = seen("""
sources:
  - {id: click, name: Click, family: click, mic: mic-vocal-dynamic}
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}
gear: [{id: mixer, type: mixer-rack-16}]
""")
    order = sorted(channels(view.plan).items(), key=lambda item: item[1].first)
    assert [name for name, _ in order] == ["kick", "voice", "click"]


@pytest.mark.published("common practice, no source")
def test_four_rear_plugs_are_left() -> None:
    """12 of 16 rear sockets are wired to the front or held open for the network: four are left."""
    view = seen("""
sources:
  - {id: one, name: One, family: keys, mic: mic-vocal-dynamic}
  - {id: two, name: Two, family: keys, mic: mic-vocal-dynamic}
  - {id: three, name: Three, family: keys, mic: mic-vocal-dynamic}
  - {id: four, name: Four, family: keys, mic: mic-vocal-dynamic}
  - {id: five, name: Five, family: keys, mic: mic-vocal-dynamic}
gear: [{id: front, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
leads: [{id: ours, type: lead-xlr, from: front.direct.1-8, to: mixer.in.1-8}]
holds:
  - {sockets: mixer.in.9-12, why: four more arrive by network}
  - {sockets: front.in.1-8, why: full with other things}
""")
    rows = view.rig.rows
    assert [str(rows[n].plug) for n in ("one", "two", "three", "four")] == [
        f"mixer.in.{n}" for n in range(13, 17)
    ]
    assert rows["five"].plug is None  # no socket is left for a fifth


@pytest.mark.published("common practice, no source")
def test_a_microphone_is_in_one_box_only() -> None:
    """A microphone plugged in the rack cannot at the same time be plugged in the house box."""
    for name in WHOLE:
        rig = whole(name).rig
        sources = [row.source for row in rig.file.patch]
        assert len(set(sources)) == len(sources)


@pytest.mark.parametrize("name", WHOLE)
def test_what_people_wrote_stays(name: str) -> None:
    view = whole(name)
    for row in view.stated.file.patch:
        assert view.rig.rows[row.source].channel == row.channel
        assert view.rig.rows[row.source].plug == row.plug


@pytest.mark.parametrize("name", WHOLE)
def test_walk_and_read_back_are_the_same_plugs(name: str) -> None:
    lists = PatchLists(whole(name).rig)
    assert list(lists.read_back) == list(lists.walk)[::-1]
    steps = [step.socket for step in lists.walk]
    assert len(set(steps)) == len(steps)
    for earlier, later in pairwise(lists.walk):
        if (earlier.gear, earlier.face, earlier.bank) == (later.gear, later.face, later.bank):
            assert earlier.number < later.number
    assert [step for panel in lists.panels() for step in panel[2]] == list(lists.walk)


@pytest.mark.parametrize("name", WHOLE)
def test_every_channel_up_to_the_last_has_its_line(name: str) -> None:
    lists = PatchLists(whole(name).rig)
    assert [row.number for row in lists.channels] == list(range(1, len(lists.channels) + 1))
    filled = [row for row in lists.channels if row.source is not None]
    assert len(filled) == sum(s.lanes for s in whole(name).rig.file.sources) - sum(
        s.lanes for s in lists.without_channel
    )


@pytest.mark.parametrize("name", WHOLE)
def test_the_completed_rig_is_a_file_that_completes_to_itself(name: str) -> None:
    view = whole(name)
    again = parse(written(view.rig), types=view.rig.types)
    assert plain(again.file) == plain(view.rig.file)
    completed = look(again)
    assert plain(completed.rig.file) == plain(view.rig.file)
    assert completed.plan.reasons == ()


@given(bands())
@settings(max_examples=25, deadline=None)
def test_any_completed_band_completes_to_itself(band: tuple[str, str, str]) -> None:
    once = complete(rig_of(band))
    again = complete(parse(written(once.rig)))
    assert plain(again.rig.file) == plain(once.rig.file)
    assert again.reasons == ()


SPLIT_TO_HOUSE = """
gear: [{id: split, type: splitter-panel-8}, {id: mixer, type: mixer-rack-16}]
leads:
  - {id: ours, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tails, type: tails-xlr-8, from: split.second.1-8, to: house.1-8}
"""


@given(bands())
@settings(max_examples=40, deadline=None)
def test_nothing_private_is_planned_into_a_socket_that_leads_to_the_house(
    band: tuple[str, str, str],
) -> None:
    sources, _, held = band  # no rows: every socket is the plan's own choice
    plan = complete(stated(f"sources:\n{sources}\n{held}\n{SPLIT_TO_HOUSE}"))
    private = {s.id for s in plan.rig.file.sources if s.private}
    at_house = plan.graph.of_listener("house")

    for source in private:
        assert not plan.graph.reached(plan.graph.of_source(source)).intersection(at_house)


def test_a_private_source_stays_unplugged_rather_than_lead_to_the_house() -> None:
    full = SPLIT_TO_HOUSE.replace("mixer-rack-16", "mixer-rack-12")
    fill = "\n".join(f"  - {{source: v{n}, plug: mixer.in.{n}}}" for n in range(9, 13))
    voices = "\n".join(
        f"  - {{id: v{n}, name: V{n}, family: voices, mic: mic-vocal-dynamic}}"
        for n in range(9, 13)
    )
    click = "  - {id: click, name: Click, family: click, di: di-passive}"
    plan = complete(stated(f"sources:\n{voices}\n{click}\npatch:\n{fill}\n{full}"))

    assert plan.rig.rows["click"].plug is None


@given(bands())
@settings(max_examples=40, deadline=None)
def test_pairs_begin_on_an_odd_socket_while_there_is_one(band: tuple[str, str, str]) -> None:
    sources, _, _ = band
    plan = complete(stated(f"sources:\n{sources}\n{RACK}"))
    for row in plan.rig.file.patch:
        if row.plug is not None and row.plug.numbers and len(Numbers(*row.plug.numbers)) == 2:
            assert row.plug.numbers[0] % 2 == 1


STAGE = """
gear: [{id: stage, type: stage-box-16x8}, {id: mixer, type: mixer-core-8},
       {id: belt, type: pack-wired, place: person, with_person: ann}]
leads:
  - {id: link, type: lead-network-locking, from: stage.link, to: mixer.link.1}
  - {id: ears, type: y-xlr-2-combo, from: stage.out.1-2, to: belt.in}
people: [{id: ann, name: Ann, ears: {plug: belt.phones, earphones: earphones-dual}}]
"""


def test_a_mix_leaves_by_the_stage_link_where_the_ears_hang_on_the_stage_box() -> None:
    voice = "sources: [{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}]"
    view = look(stated(f"{voice}\n{STAGE}"))

    assert str(view.rig.mixes["mix-ann"].out) == "mixer.link.1.tx.1-2"
    assert view.graph.reached(view.graph.of_source("voice")) >= set(view.graph.of_listener("ann"))


def test_channels_are_planned_in_blocks_that_the_mixer_can_set() -> None:
    """One source in the mixer itself, eight by the link: no block of eight may hold both."""
    voices = "\n".join(
        f"  - {{id: v{n}, name: V{n}, family: voices, mic: mic-vocal-dynamic}}" for n in range(1, 9)
    )
    kick = "  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic}"
    view = look(
        stated(
            f"sources:\n{kick}\n{voices}\n{STAGE}\npatch:\n  - {{source: kick, plug: mixer.in.1}}"
        )
    )
    taken = {source: row.channel.first for source, row in view.rig.rows.items() if row.channel}

    assert len(taken) == 9
    block = (taken["kick"] - 1) // 8
    assert all((n - 1) // 8 != block for source, n in taken.items() if source != "kick")


def test_a_block_of_channels_takes_a_block_of_inputs_as_it_is() -> None:
    """The seventh and eighth of eight inputs are the seventh and eighth of eight channels."""
    keys = "sources: [{id: keys, name: Keys, family: keys, stereo: true, mic: mic-small-condenser}]"
    plan = complete(
        stated(
            f"{keys}\npatch: [{{source: keys, plug: mixer.in.15-16}}]\n"
            f"holds: [{{channels: 15-16, why: a guest}}]\n{RACK}"
        )
    )
    assert (channels(plan)["keys"].first - 1) % 8 == 6


def test_a_channel_that_people_know_gets_its_socket_before_a_new_source_does() -> None:
    voices = "\n".join(
        f"  - {{id: v{n}, name: V{n}, family: voices, mic: mic-vocal-dynamic}}" for n in (1, 2)
    )
    plan = complete(stated(f"sources:\n{voices}\npatch: [{{source: v2, channel: 1}}]\n{RACK}"))

    assert str(plan.rig.rows["v2"].plug) == "split.in.1"
    assert str(plan.rig.rows["v1"].plug) == "split.in.2"
