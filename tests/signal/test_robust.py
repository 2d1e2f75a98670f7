"""Whatever the reader accepts can be drawn, completed and judged; what cannot, it refuses."""

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from rigproof.checks.verdict import check
from rigproof.rig import Rig, RigError, RigErrors
from rigproof.rig.geartype import Port
from rigproof.rigfile.library import library_type
from tests.bands import stated

GEAR = {
    "mixer": "mixer-rack-16",
    "core": "mixer-core-8",
    "analogue": "mixer-analogue-16",
    "box": "stage-box-8x8",
    "split": "splitter-transformer-8",
    "pack": "pack-wireless",
    "tx": "transmitter-ears",
    "pm": "personal-mixer-16",
    "hub": "hub-16",
    "amp": "headphone-amp-4",
    "net": "stage-box-16x8-network",
    "strip": "strip-c13-8",
    "mic": "mic-vocal-dynamic",
}
numbers = st.sampled_from(("", "", "", ".1", ".2", ".1-2", ".3-8"))
ways = st.sampled_from(("", "", ".rx", ".tx", ".tx.1-2", ".rx.8"))
boxes = st.sampled_from(("house", *GEAR))


@st.composite
def sockets(draw: st.DrawFn) -> str:
    """Any bank of any box, whether or not it suits; sometimes with numbers it does not have."""
    box = draw(boxes)
    if box == "house":
        return f"house.{draw(st.sampled_from(('1', '2-5', '1-16')))}"
    banks = library_type(GEAR[box]).banks
    bank = banks[draw(st.sampled_from(sorted(banks)))]
    way = draw(ways) if isinstance(bank, Port) and bank.way == "both" else ""
    return f"{box}.{bank.id}{draw(numbers) if bank.count > 1 else ''}{way}"


maybe = st.none() | sockets()
people = st.sampled_from(("ana", "ben"))
sources = st.sampled_from(("one", "two"))
numbered = st.sampled_from(("1", "2", "1-2", "7-8", "400"))


def flow(**parts: object) -> str:
    told = (f"{key.rstrip('_')}: {value}" for key, value in parts.items() if value is not None)
    return "{" + ", ".join(told) + "}"


@st.composite
def leads(draw: st.DrawFn) -> str:
    kinds = ("lead-xlr", "y-insert", "lead-network-locking", "fan-db25-xlr-m-8", "mixer-rack-16")
    return flow(
        id="l",
        type=draw(st.sampled_from(kinds)),
        from_=draw(sockets()),
        to=draw(sockets()),
        back=draw(maybe),
        at_venues=draw(st.sampled_from((None, "[bar]"))),
    )


@st.composite
def rows(draw: st.DrawFn) -> str:
    return flow(
        source=draw(sources),
        plug=draw(maybe),
        channel=draw(st.none() | numbered),
        phantom=draw(st.sampled_from((None, '"on"'))),
        gain_db=draw(st.sampled_from((None, 20))),
    )


@st.composite
def routes(draw: st.DrawFn) -> str:
    return flow(from_=draw(sockets()), to=draw(sockets()))


@st.composite
def mixes(draw: st.DrawFn) -> str:
    sends = st.sampled_from(("{from: one}", "{from: pair}", "{slot: 1-2}", "{slot: 90}", "{}"))
    return flow(
        id="m",
        listeners=f"[{draw(people)}]",
        on=draw(st.none() | boxes),
        bus=draw(st.none() | numbered),
        bank=draw(st.sampled_from((None, "main", "nowhere"))),
        out=draw(maybe),
        stereo=draw(st.sampled_from((None, "true"))),
        purpose=draw(st.sampled_from((None, "house", "effect"))),
        sends=f"[{draw(sends)}, {draw(sends)}]",
    )


@st.composite
def feeds(draw: st.DrawFn) -> str:
    slot = flow(slot=draw(numbered), takes="[one, pair]", bus=draw(st.none() | numbered))
    return flow(id="f", port=draw(sockets()), slots=f"[{slot}]")


@st.composite
def links(draw: st.DrawFn) -> str:
    return flow(id="s", from_=draw(sockets()), to=draw(sockets()))


@st.composite
def persons(draw: st.DrawFn) -> tuple[str, str]:
    ears = flow(plug=draw(maybe), earphones=draw(st.sampled_from((None, "earphones-dual"))))
    return flow(id="ana", name="Ana", ears=ears, wedge=draw(maybe)), "{id: ben, name: Ben}"


@st.composite
def instruments(draw: st.DrawFn) -> str:
    types = st.none() | st.sampled_from(("mic-vocal-dynamic", "di-passive-stereo", "lead-xlr"))
    return flow(
        id="one",
        name="One",
        family=draw(st.sampled_from(("keys", "click"))),
        stereo=draw(st.sampled_from((None, "true"))),
        mic=draw(types),
        di=draw(types),
        from_=draw(maybe),
        player="ana",
    )


PIECES = {
    "leads": leads(),
    "patch": rows(),
    "routes": routes(),
    "mixes": mixes(),
    "feeds": feeds(),
    "streams": links(),
    "radio": links(),
    "holds": st.builds(lambda socket: flow(sockets=socket, why="a guest"), sockets()),
    "clocks": st.builds(lambda a, b: flow(gear=a, follows=b, rate_hz=48000), boxes, boxes),
}


@st.composite
def rigs(draw: st.DrawFn) -> str:
    parts = [f"people: [{', '.join(draw(persons()))}]"]
    parts.append(f"sources: [{draw(instruments())}, {{id: two, name: Two, family: drums}}]")
    parts.append("groups: [{id: pair, sources: [one, two]}]")
    boxes_ = ", ".join(f"{{id: {name}, type: {type_}}}" for name, type_ in GEAR.items())
    parts.append(f"gear: [{boxes_}]")
    parts.append("case: {type: case-20-castors}")
    parts.append("venues: [{id: bar, name: Bar, desk: {takes: tails}}]")
    for key in draw(st.sets(st.sampled_from(sorted(PIECES)), max_size=3)):
        parts.append(f"{key}: [{draw(PIECES[key])}]")
    away = draw(st.sampled_from(("ana", "one", "mixer", "split")))
    parts.append(f"shows: [{{id: s, date: 2027-01-01, venue: bar, without: [{away}]}}]")
    return "\n".join(parts) + "\n"


@given(rigs())
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_is_read_can_be_judged(text: str) -> None:
    rig: Rig | None = None
    faults: tuple[RigError, ...] = ()
    try:
        rig = stated(text)
    except RigErrors as refused:
        faults = refused.faults
    assert all(fault.says and fault.at.line for fault in faults)
    if rig is not None:
        event("judged")
        check(rig)


BASE = """
people: [{id: ana, name: Ana}]
sources: [{id: one, name: One, family: keys, mic: mic-vocal-dynamic}]
gear: [{id: mixer, type: mixer-rack-16}, {id: box, type: stage-box-8x8}]
case: {type: case-6}
venues: [{id: bar, name: Bar, desk: {takes: tails}}]
"""


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (
            "leads: [{id: l, type: lead-xlr, from: mixer.ch.1, to: house.1}]",
            "nothing can be plugged",
        ),
        ("leads: [{id: l, type: lead-xlr, from: case.in.1, to: house.1}]", "case"),
        ("leads: [{id: l, type: lead-xlr, from: mixer.link.tx.9, to: house.1}]", "lane"),
        ("patch: [{source: one, plug: mixer.pre.1}]", "nothing can be plugged"),
        ("routes: [{from: mixer.out.1, to: mixer.bus.1}]", "does not bring a signal in"),
        ("routes: [{from: mixer.ch.1, to: mixer.in.1}]", "does not take a signal out"),
        ("routes: [{from: mixer.ch.1, to: box.out.1}]", "inside one box"),
        ("routes: [{from: house.1, to: mixer.ch.1}]", "at the house"),
        ("mixes: [{id: m, bus: 1, out: box.out.1}]", "leaves by a socket of the box"),
        ("mixes: [{id: m, bus: 1, on: case}]", "is the case"),
        ("feeds: [{id: f, port: house.1}]", "at the house"),
        ("feeds: [{id: f, port: mixer.in}]", "does not take a signal out"),
        ("streams: [{id: s, from: mixer.in.1, to: house.1}]", "does not take a signal out"),
        (
            "patch: [{source: guest, plug: mixer.in.1}]\n"
            "shows: [{id: s, date: d, venue: bar, "
            "sources: [{id: guest, name: Guest, family: keys}]}]",
            "only comes along",
        ),
    ],
)
def test_what_no_graph_can_hold_is_refused(more: str, says: str) -> None:
    with pytest.raises(RigErrors) as refused:
        stated(BASE + more)
    assert [fault for fault in refused.value.faults if says in fault.says]
    assert all(fault.fix for fault in refused.value.faults)
