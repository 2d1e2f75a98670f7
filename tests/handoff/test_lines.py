"""What each kind of house gets, and what goes when its lines are few."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.checks.rule import look
from rigproof.handoff import HandOff, hand_off, hand_offs
from rigproof.rig.lanes import sockets
from tests.bands import seen, stated, whole

BAND = """
people: [{id: ana, name: Ana, ears: {plug: mixer.phones}}]
sources:
  - {id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, drop: 3}
  - {id: overheads, name: Overheads, family: drums, stereo: true, mic: mic-small-condenser, drop: 1}
  - {id: bass, name: Bass, family: bass, di: di-active, connector: jack-ts-f, drop: 2}
  - {id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic}
  - {id: click, name: Click, family: click, mic: mic-vocal-dynamic}
  - {id: desk-talk, name: Desk talk, family: talk, owner: house, from: house.40}
gear: [{id: split, type: splitter-transformer-8}, {id: box, type: stage-box-16x8}, {id: mixer, type: mixer-rack-16}, {id: card, type: card-network-audio-32, inside: mixer}]
leads:
  - {id: ours, type: lead-xlr, from: split.direct.1-8, to: mixer.in.1-8}
  - {id: tails, type: tails-xlr-8, from: split.iso.1-8, to: house.1-8}
  - {id: direct, type: lead-xlr, from: box.out.1, to: house.30, at_venues: [elsewhere]}
  - {id: slot, type: adapter-card-slot, from: mixer.card, to: card.slot}
  - {id: link, type: lead-network-locking, from: mixer.link, to: house.51-58, at_venues: [linked]}
  - {id: main, type: lead-xlr, from: mixer.out.7-8, to: house.61-62, at_venues: [hall]}
  - {id: talk, type: lead-xlr, from: house.40, to: mixer.in.16}
patch:
  - {source: kick, plug: split.in.1, channel: 1}
  - {source: overheads, plug: split.in.3-4, channel: 3-4, phantom: "on"}
  - {source: bass, plug: split.in.5, channel: 5, phantom: "on"}
  - {source: voice, plug: split.in.6, channel: 6}
  - {source: click, plug: mixer.in.12, channel: 12}
  - {source: desk-talk, channel: 16}
holds: [{lines: 7, why: a guest}]
routes:
  - {from: mixer.ch.1-6, to: mixer.card.tx.1-6}
  - {from: mixer.ch.3-6, to: mixer.link.tx.3-6}
mixes: [{id: house, purpose: house, stereo: true, bank: main, bus: 1-2, out: mixer.out.7-8, sends: [{from: kick}, {from: voice}]}]
streams: [{id: stream, from: card.net.tx.1-6, to: house.11-16}]
venues:
  - {id: bar, name: Bar, desk: {takes: tails, lines_free: 8, phantom: "off"}}
  - {id: linked, name: Linked, desk: {takes: link, lines_free: 8}}
  - {id: field, name: Field, desk: {takes: network, lines_free: 8}}
  - {id: hall, name: Hall, desk: {takes: mixed}}
  - {id: yard, name: Yard, desk: {takes: nothing}}
  - {id: elsewhere, name: Elsewhere, desk: {takes: tails, lines_free: 4, order: [voice, bass, kick]}}
"""  # noqa: E501


def at(venue: str, text: str = BAND) -> HandOff:
    return next(hand for hand in seen(text).hand_offs if hand.venue.id == venue)


def used(hand: HandOff) -> dict[int, str]:
    return {line.number: line.name for line in hand.used}


TAILS = {1: "Kick", 3: "Overheads L", 4: "Overheads R", 5: "Bass", 6: "Voice"}


def test_tails() -> None:
    hand = at("bar")
    assert used(hand) == TAILS
    assert {line.number: line.status for line in hand.lines if line.status != "use"} == {
        2: "spare",
        7: "held",
        8: "spare",
    }
    assert all(line.isolated and not line.phantom_passes for line in hand.used)
    assert [line.channel for line in hand.used] == [1, 3, 4, 5, 6]
    assert {line.level for line in hand.used} == {"mic"}
    assert hand.returns == ("Desk talk",)


def test_link_is_numbered_lane_by_lane() -> None:
    hand = at("linked")
    assert used(hand) == {53: "Overheads L", 54: "Overheads R", 55: "Bass", 56: "Voice"}
    assert [line.sent_from for line in hand.used][:1] == ["mixer.link.tx.3"]
    assert {line.level for line in hand.used} == {"digital"}
    assert hand.dead == ()


def test_network() -> None:
    hand = at("field")
    assert used(hand) == {
        11: "Kick", 13: "Overheads L", 14: "Overheads R", 15: "Bass", 16: "Voice",
    }  # fmt: skip
    assert {line.carrier for line in hand.used} == {"stream"}
    assert hand.dead == ()


def test_tails_beside_a_network() -> None:
    plain = at("field")
    both = at("field", BAND.replace("takes: network,", "takes: network, also_tails: [1, 6],"))
    tails = {line.number: line for line in both.tails_beside}
    assert {number: line.name for number, line in tails.items()} == {1: "Kick", 6: "Voice"}
    assert not plain.tails_beside
    # They come last, take none of the free channels, and leave the house's numbers alone.
    assert both.lines[: len(plain.lines)] == plain.lines
    assert [line.number for line in both.lines[len(plain.lines) :]] == [1, 6]
    assert both.needed == plain.needed
    assert all(line.house_number is None for line in tails.values())
    # The microphones that need no 48 V are still there when the rack is dead.
    assert not plain.dead
    assert {line.number for line in both.dead} == {1, 6}
    # Where tails are taken anyway, nothing changes.
    twice = BAND.replace("takes: tails,", "takes: tails, also_tails: [1],", 1)
    assert at("bar").lines == at("bar", twice).lines


def test_mix_of_ours() -> None:
    hand = at("hall")
    assert [(line.number, line.means, line.mix) for line in hand.used] == [
        (61, "mix", "house"),
        (62, "mix", "house"),
    ]


def test_nothing() -> None:
    assert at("yard").lines == ()


def test_numbers_of_the_house() -> None:
    assert [line.house_number for line in at("bar").used] == [1, 2, 3, 4, 5]
    # The house's own order; what it does not name comes after, pairs together.
    order = sorted(
        (line for line in at("elsewhere").lines if line.house_number),
        key=lambda x: x.house_number or 0,
    )
    assert [line.name for line in order] == ["Voice", "Bass", "Kick"]


def test_drop_order_takes_pairs_whole() -> None:
    hand = at("elsewhere")
    assert hand.needed == 5
    assert [line.name for line in hand.dropped] == ["Overheads L", "Overheads R"]
    order = [line.name for line in hand.drop_order]
    assert order == ["Overheads L", "Overheads R", "Bass", "Kick", "Voice"]


def test_rack_dead_loses_condensers_on_isolated_legs() -> None:
    assert [line.name for line in at("bar").dead] == ["Kick", "Voice"]
    direct = BAND.replace(
        "from: split.iso.1-8, to: house.1-8", "from: split.direct.1-8, to: house.1-8"
    )
    revived = at("bar", direct)
    assert [line.name for line in revived.dead] == ["Kick", "Voice"]
    assert [line.name for line in revived.dead_if_fed] == ["Overheads L", "Overheads R", "Bass"]
    fed = at("bar", direct.replace('lines_free: 8, phantom: "off"', 'lines_free: 8, phantom: "on"'))
    assert [line.name for line in fed.dead] == list(TAILS.values())
    assert fed.dead_if_fed == ()


def test_active_split_is_dead_with_the_rack_but_for_its_link() -> None:
    active = BAND.replace("splitter-transformer-8", "splitter-active-8").replace(
        "split.direct.1-8", "split.out.1-8"
    )
    assert at("bar", active).dead == ()
    linked = active.replace("split.iso.1-8", "split.link.1-8")
    assert [line.name for line in at("bar", linked).dead] == ["Kick", "Voice"]


def test_the_same_house_line_may_be_another_lead_at_another_venue() -> None:
    text = BAND.replace(
        "from: split.iso.1-8, to: house.1-8}",
        "from: split.iso.1-8, to: house.1-8, at_venues: [bar]}\n"
        "  - {id: bare, type: tails-xlr-8, from: split.direct.1-8, to: house.1-8, "
        "at_venues: [elsewhere]}",
    ).replace(
        "from: split.direct.1-8, to: mixer.in.1-8}",
        "from: split.direct.1-8, to: mixer.in.1-8, at_venues: [bar]}",
    )
    assert used(at("bar", text)) == TAILS
    assert all(line.isolated for line in at("bar", text).used)
    away = at("elsewhere", text)
    assert {line.name for line in (*away.used, *away.dropped)} == set(TAILS.values())
    assert not any(line.isolated for line in away.used)


def test_private_lines_are_there_and_ignored() -> None:
    text = BAND.replace("plug: mixer.in.12, channel: 12", "plug: split.in.8, channel: 8")
    hand = at("bar", text)
    assert [(line.name, line.status) for line in hand.lines if line.number == 8] == [
        ("Click", "ignore")
    ]
    assert hand.needed == 5


def test_guest_show() -> None:
    view = whole("demo")
    meadow = next(show for show in view.stated.file.shows if show.id == "meadow")
    hands = look(view.stated, meadow).hand_offs
    assert [hand.venue.id for hand in hands] == ["festival"]
    names = {line.name for line in hands[0].used}
    assert {"Hurdy-gurdy", "Ines voice"} <= names
    assert "Click" not in names


@st.composite
def drops(draw: st.DrawFn) -> tuple[list[tuple[bool, int | None]], int]:
    sources = draw(
        st.lists(st.tuples(st.booleans(), st.none() | st.integers(1, 9)), min_size=1, max_size=5)
    )
    return sources, draw(st.integers(0, 9))


@given(drops())
@settings(max_examples=40, deadline=None)
def test_dropping(case: tuple[list[tuple[bool, int | None]], int]) -> None:
    """Whole sources, in drop order, enough of them, and none that could have stayed."""
    sources, free = case
    lines, rows, place = [], [], 1
    for n, (stereo, drop) in enumerate(sources):
        more = (", stereo: true" if stereo else "") + (f", drop: {drop}" if drop else "")
        lines.append(f"  - {{id: s{n}, name: S{n}, family: keys, mic: mic-vocal-dynamic{more}}}")
        last = place + stereo
        rows.append(f"  - {{source: s{n}, plug: split.in.{place}-{last}}}")
        place = last + 1
    hand = seen(
        "sources:\n" + "\n".join(lines) + "\npatch:\n" + "\n".join(rows)
        + "\ngear: [{id: split, type: splitter-transformer-16}]"
        + "\nleads: [{id: tails, type: multicore-16, from: split.iso.1-16, to: house.1-16}]"
        + f"\nvenues: [{{id: bar, name: Bar, desk: {{takes: tails, lines_free: {free}}}}}]"
    ).hand_offs[0]  # fmt: skip
    wide = {f"s{n}": 1 + stereo for n, (stereo, _) in enumerate(sources)}
    rank = {f"s{n}": (drop or 10_000, f"s{n}") for n, (_, drop) in enumerate(sources)}
    gone = {line.source.id for line in hand.dropped if line.source}
    stays = set(wide) - gone
    assert len(hand.dropped) == sum(wide[name] for name in gone)  # pairs as pairs
    assert sum(wide[name] for name in stays) <= free
    assert not gone or max(rank[g] for g in gone) < min([rank[s] for s in stays] or [(10**6, "")])
    if gone:  # one source less and it would not have fitted
        latest = max(gone, key=lambda name: rank[name])
        assert sum(wide[name] for name in stays | {latest}) > free


def walked(text: str, venue: str) -> dict[int, str]:
    """What arrives at each tail, by following leads and the straight wires of passive boxes."""
    rig = stated(text)
    joins: list[tuple[str, str]] = []
    for lead in rig.file.leads:
        if lead.at_venues and venue not in lead.at_venues:
            continue
        ends = [sockets(rig.gear_types, ref, lead.where) for ref in (lead.from_, lead.to)]
        joins += [(a.key, b.key) for a, b in zip(*ends, strict=False)]
    for gear in rig.file.gear:
        if rig.type_of(gear.id).class_ in {"splitter", "panel"}:
            joins += [
                (f"{gear.id}.in.{n}", f"{gear.id}.{leg}.{n}")
                for leg in ("direct", "iso")
                for n in range(1, 9)
            ]
    found: dict[int, str] = {}
    for row in rig.file.patch:
        if row.plug is None:
            continue
        for lane, socket in enumerate(sockets(rig.gear_types, row.plug, row.where)):
            here = {socket.key}
            for _ in range(len(joins)):
                here |= {b for a, b in joins if a in here}
            for key in here:
                if key.startswith("house."):
                    found[int(key[6:])] = rig.sources[row.source].lane_names[lane]
    return found


@pytest.mark.parametrize("venue", ["bar", "elsewhere"])
def test_lines_are_what_a_walk_over_leads_finds(venue: str) -> None:
    hand = at(venue)
    assert {line.number: line.name for line in hand.lines if line.source} == walked(BAND, venue)


def test_every_venue_is_told_as_if_alone() -> None:
    view = seen(BAND)
    together = hand_offs(view.rig, view.graph)
    assert together == tuple(hand_off(view.rig, view.graph, v) for v in view.rig.file.venues)


def test_combinations_of_free_lines_never_drop_needlessly() -> None:
    """The order of dropping is the only freedom: nothing is spared by leaving out another pair."""
    hand = at("elsewhere")
    sizes = {"overheads": 2, "bass": 1, "kick": 1, "voice": 1}
    fewest = min(
        n for n in range(5) for gone in combinations(sizes, n)
        if sum(sizes.values()) - sum(sizes[g] for g in gone) <= 4
    )  # fmt: skip
    assert len({line.source.id for line in hand.dropped if line.source}) == fewest
