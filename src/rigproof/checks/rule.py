"""What a rule is, what it looks at, and what it finds."""

import re
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from textwrap import dedent
from typing import Any, Literal, TypeVar, get_args

import msgspec

from rigproof.checks.joints import Run, runs
from rigproof.checks.settings import Setting, settings
from rigproof.handoff import HandOff, hand_offs
from rigproof.mains import (
    Load,
    Outlet,
    Place,
    Sag,
    StripLoad,
    outlets,
    place_of,
    rack_load,
    sag,
    strip_loads,
    usual_place,
)
from rigproof.mixes import Listening, complete_mixes, listenings
from rigproof.mixes.exposure import Exposure, exposures
from rigproof.network import Cabling, Domain, Ways, cabling, digital_ways, domains
from rigproof.network.airwaves import Air, air
from rigproof.network.traffic import Flow, flows
from rigproof.patch import Planned, complete
from rigproof.rack import Elevation, Way, Weights, elevation, lead_ways, weights
from rigproof.rig import Rig, Show, Venue
from rigproof.rig.collecting import no_collecting
from rigproof.rig.where import Where
from rigproof.signal import Graph
from rigproof.signal.arrival import Arrival, arrival
from rigproof.signal.chains import Chains
from rigproof.signal.delay import Delays
from rigproof.signal.figures import Figures
from rigproof.signal.graph import planned, possible
from rigproof.signal.levels import Levels
from rigproof.signal.loading import LoadedLine, loaded_lines
from rigproof.signal.peaks import Peaks
from rigproof.signal.phantom import PhantomLine, phantom_lines
from rigproof.signal.reach import Reach, reach
from rigproof.signal.room import Room, rooms
from rigproof.signal.sums import EarSums
from rigproof.signal.widths import Widths
from rigproof.wording import opening, rounded
from rigproof.wording.sentences import joined, sentence

Severity = Literal["stop", "risk", "advice", "unknown"]
SEVERITIES: tuple[Severity, ...] = get_args(Severity)  # the gravest first; "unknown" apart
_LENGTHS_AND_WEIGHTS = frozenset({"mm", "cm", "m", "kg"})


Made = TypeVar("Made")


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing wrong, unwise or unknown. The rule fills in who found it and how grave it is.

    `path` is the way a signal takes, in words, where the finding is about one. `found`, `limit`
    and `unit` carry the figure and its bound where there is one.
    """

    at: Where
    says: str
    fix: str = ""  # by default the rule's own
    path: tuple[str, ...] = ()
    found: float | None = None
    limit: float | None = None
    unit: str = ""
    severity: Severity = "advice"
    rule: str = ""
    show: str = ""  # the date it appears at; empty for every night

    @property
    def data(self) -> dict[str, object]:
        """The finding as programs read it."""
        return {
            "rule": self.rule,
            "severity": self.severity,
            "says": str(self.says),
            "fix": str(self.fix),
            "file": self.at.file,
            "line": self.at.line,
            "column": self.at.column,
            "path": list(map(str, self.path)),
            "found": None if self.found is None else float(self.found),
            "limit": None if self.limit is None else float(self.limit),
            "unit": str(self.unit),
            "show": self.show,
        }

    @property
    def figure(self) -> str:
        """The figure beside its limit in words; empty where the finding is about none."""
        if self.found is None and self.limit is None:
            return ""
        if self.found is None:
            return sentence("limit {limit}", limit=self._of_unit(rounded(self.limit or 0.0)))
        found = self._of_unit(rounded(self.found, unlike=self.limit))
        if self.limit is None:
            return found
        limit = rounded(self.limit, unlike=self.found)
        if self.unit in _LENGTHS_AND_WEIGHTS:
            limit = self._of_unit(limit)  # it may be said in feet or pounds
        return sentence("{found} (limit {limit})", found=found, limit=limit)

    def _of_unit(self, figure: str) -> str:
        return joined(" ", filter(None, (figure, sentence(self.unit))))


class View(msgspec.Struct, frozen=True, dict=True):
    """What a rule looks at: the rig as stated, as completed, and its graph."""

    stated: Rig
    plan: Planned
    show: Show | None = None

    # Asked for so often that a look into the plan each time would be felt.
    @cached_property
    def rig(self) -> Rig:
        """The completed rig."""
        return self.plan.rig

    @cached_property
    def graph(self) -> Graph:
        return self.plan.graph

    def once(self, work: "Callable[[View], Made]") -> Made:
        """What several rules need and a function works out from this view: once for all."""
        if work not in self._made:
            self._made[work] = work(self)
        made: Made = self._made[work]
        return made

    @cached_property
    def _made(self) -> dict[object, Any]:
        return {}

    @cached_property
    def arriving(self) -> Reach:
        """Which sources arrive where, as planned."""
        return reach(self.graph, self.rig.sources, through=planned)

    @cached_property
    def heard(self) -> Mapping[str, tuple[str, ...]]:
        """Person -> the sources that arrive at the ears or the wedge."""
        ends = self.graph.of_listener
        return {who: self.arriving.at(ends(who)) for who in self.rig.people}

    @cached_property
    def hand_offs(self) -> tuple[HandOff, ...]:
        """What each venue gets; of a show, what its own venue gets."""
        return hand_offs(self.rig, self.graph, self.show, self.lines)

    @cached_property
    def private_could_arrive(self) -> Reach:
        """Where the band's private sources could arrive if somebody set one choice or many."""
        ours = (s.id for s in self.rig.file.sources if s.private and s.owner != "house")
        return reach(self.graph, ours, through=possible)

    @cached_property
    def lanes(self) -> Arrival:
        """Which lanes of which sources arrive where, as planned."""
        return arrival(self.graph, self.rig)

    @cached_property
    def cables(self) -> Cabling:
        """The data leads, socket by socket."""
        return cabling(self.rig)

    @cached_property
    def clock_ways(self) -> Ways:
        """The steps a clock can take from box to box."""
        return digital_ways(self.rig, self.cables)

    @cached_property
    def clock_domains(self) -> tuple[Domain, ...]:
        """The boxes whose samples meet, part by part."""
        return domains(self.rig, self.clock_ways)

    @cached_property
    def elevation(self) -> Elevation | None:
        """The case with everything in it, where there is one."""
        return elevation(self.rig)

    @cached_property
    def outlets(self) -> tuple[Outlet, ...]:
        """The mains outlets and what hangs on them."""
        return outlets(self.rig)

    @property
    def venues(self) -> tuple[Venue, ...]:
        """Every venue the rig may stand in; of a show, its own one."""
        if self.show is None:
            return self.rig.file.venues
        return tuple(v for v in self.rig.file.venues if v.id == self.show.venue)

    @cached_property
    def load(self) -> Load:
        """What hangs on the rack's mains lead."""
        return rack_load(self.rig)

    @cached_property
    def mains_places(self) -> tuple[Place, ...]:
        """Where the rack is plugged in: each venue, or the usual supply where there are none."""
        usual = usual_place(self.rig)
        found = tuple(place_of(venue) for venue in self.venues)
        return found or ((usual,) if usual is not None else ())

    @cached_property
    def strips(self) -> tuple[StripLoad, ...]:
        """What passes through each strip, filter, sequencer and UPS."""
        return strip_loads(self.rig, self.load)

    @cached_property
    def sags(self) -> tuple[tuple[Place, Sag], ...]:
        """The volts at each box, for each place that states its own."""
        found = ((place, sag(self.rig, place, self.load)) for place in self.mains_places)
        return tuple((place, one) for place, one in found if one is not None)

    @cached_property
    def flows(self) -> tuple[Flow, ...]:
        """The streams of audio in packets, with what each weighs."""
        return flows(self.rig, self.cables)

    @cached_property
    def air(self) -> Air:
        """The wireless links and which of them meet."""
        return air(self.rig)

    @cached_property
    def weights(self) -> Weights:
        """What is carried, part by part."""
        return weights(self.rig)

    @cached_property
    def lead_ways(self) -> tuple[Way, ...]:
        """The leads on the stage, each with its longest way."""
        return lead_ways(self.rig, self.venues)

    @cached_property
    def lines(self) -> Mapping[str, PhantomLine]:
        """Source -> its line and who can put 48 V on it."""
        return phantom_lines(self.graph, self.rig)

    @cached_property
    def figures(self) -> Figures:
        """What each hop does to a level, and what hisses where."""
        return Figures(self.graph, self.rig)

    @cached_property
    def chains(self) -> Chains:
        """The stretches of the graph that are the same for all ears."""
        return Chains(self.graph)

    @cached_property
    def peaks(self) -> Peaks:
        """How high the peaks stand at every place, and what it bears."""
        return self.levels.peaks

    @cached_property
    def rooms(self) -> tuple[Room, ...]:
        """The room over the peaks at every place that can be judged."""
        return tuple(rooms(self.graph, self.peaks, self.ears, self.arriving))

    @cached_property
    def listenings(self) -> tuple[Listening, ...]:
        """What every person hears."""
        return listenings(self.rig, self.graph, self.arriving)

    @cached_property
    def ears(self) -> EarSums:
        """Level, hiss and the loudest at each pair of ears."""
        return EarSums(self.graph, self.rig, self.chains, self.figures)

    @cached_property
    def levels(self) -> Levels:
        """The same with every share of a hiss, which no rule asks for."""
        return Levels(self.graph, self.rig, self.ears)

    @cached_property
    def widths(self) -> Widths:
        """How far off these sums may likely be, which no rule asks for either."""
        return Widths(self.ears)

    @cached_property
    def delays(self) -> Delays:
        """How late each source is at each pair of ears."""
        return Delays(self.graph, self.rig, self.chains, self.figures)

    @cached_property
    def loads(self) -> Mapping[str, LoadedLine]:
        """Source -> its line and the inputs that load it."""
        return loaded_lines(self.graph, self.rig, self.figures.lines)

    @cached_property
    def exposures(self) -> tuple[Exposure, ...]:
        """What each pair of ears gets in a rehearsal, a show and a week."""
        return exposures(self.rig, self.ears.ears)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The leads with the sockets they join."""
        return runs(self.rig)

    @cached_property
    def settings(self) -> tuple[Setting, ...]:
        """The routes and sends, by the lanes of the boxes they are set in."""
        return settings(self.graph, self.rig)


def look(rig: Rig, show: Show | None = None) -> View:
    """Complete a rig, as it stands or as one show changes it, and build its graph.

    The nights of the rig looked at last are kept, with all that was worked out from them: a rig
    cannot change, so neither can they.
    """
    last = _LOOKED[-1] if _LOOKED else None
    if last is None or last.rig is not rig:
        last = _Looked(rig)
        _LOOKED[:] = [last]  # the one before gives up its room first
    view = last.nights.get(id(show))
    if view is None:
        view = last.nights[id(show)] = look_once(rig, show)
    return view


class _Looked(msgspec.Struct, frozen=True):
    """A rig and its nights, by the identity of the show, which the view holds."""

    rig: Rig
    nights: dict[int, View] = {}


_LOOKED: list[_Looked] = []


def look_once(rig: Rig, show: Show | None = None) -> View:
    """The same for a night that nobody asks for again; nothing of it is kept."""
    stated = rig.for_show(show) if show else rig
    with no_collecting():
        with_mixes, reasons = complete_mixes(stated)
        return View(stated, complete(with_mixes, reasons), show)


Check = Callable[[View], Iterator[Finding]]

_HEADINGS = ("Why", "Fix", "Source", "Fails", "Passes")


class Rule(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """A check with its identifier. Its docstring is its help page, its examples are its test."""

    id: str
    severity: Severity
    check: Check
    since: str

    @cached_property
    def parts(self) -> dict[str, str]:
        """The help page: title, Why, Fix, Source, Fails, Passes."""
        title, _, rest = (self.check.__doc__ or "").partition("\n")
        return _parts(f"{title.strip()}\n{dedent(rest)}")

    @property
    def area(self) -> str:
        return self.id.partition(".")[0]

    @property
    def title(self) -> str:
        return self.parts["title"]

    @property
    def why(self) -> str:
        return opening(self.parts["Why"])

    @cached_property
    def fix(self) -> str:
        return sentence(opening(self.parts["Fix"]))

    @property
    def source(self) -> str:
        return opening(self.parts["Source"])

    def findings(self, view: View) -> Iterator[Finding]:
        """What the rule finds, graded as the rule is; what could not be judged stays unknown."""
        for finding in self.check(view):
            severity = "unknown" if finding.severity == "unknown" else self.severity
            yield msgspec.structs.replace(
                finding,
                rule=self.id,
                severity=severity,
                fix=finding.fix or self.fix,
                show=view.show.id if view.show else "",
            )


def _parts(doc: str) -> dict[str, str]:
    """The docstring cut at its headings: a title, then Why, Fix, Source, Fails, Passes."""
    pieces = re.split(rf"^({'|'.join(_HEADINGS)}):[ \t]*", doc, flags=re.MULTILINE)
    parts = {"title": pieces[0].strip()}
    for heading, text in zip(pieces[1::2], pieces[2::2], strict=True):
        parts[heading] = text.strip("\n").rstrip()
        if heading in {"Why", "Fix", "Source"}:
            parts[heading] = " ".join(text.split())
    return parts
