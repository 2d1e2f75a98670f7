"""Why a line is loaded as it is, and why so many of the 48 V are left at its microphone."""

from rigproof.physics.loading import loading_loss_db
from rigproof.physics.phantom48 import P48_LEG_OHM, P48_V, feed_ohm
from rigproof.rig.quantity import Quantity
from rigproof.rig.spread import likely
from rigproof.signal.loading import DESKS, FedLine, LoadedLine, least_v, likely_volts
from rigproof.signal.reasons import Line, Reason


def why_load(line: LoadedLine) -> Reason:
    """What a source loses into the inputs that hang on it, and into one to four desks."""
    missing = tuple(f"impedance_ohm of {key}" for key in line.unknown)
    if line.source_ohm is None or line.load_ohm is None or line.loss_db is None:
        if line.source_ohm is None:
            missing += (f"impedance_ohm of {line.driver}",)
        return Reason(figure="load", value=None, low=None, high=None, unit="dB", lines=(),
                      missing=missing or ("an input that it is plugged in",))  # fmt: skip
    ohm, load = line.source_ohm, line.load_ohm
    lines = [
        Line(place=line.driver, what="its own impedance", value=ohm, unit="ohm",
             provenance=ohm.provenance),
        *(
            Line(place=key, what="hangs on it", value=each, unit="ohm", provenance=each.provenance)
            for key, each in line.loads
        ),
        Line(place=line.driver, what="all of them side by side", value=load, unit="ohm",
             provenance=load.provenance, by="loading.parallel_ohm",
             worked=f"1 / ({' + '.join(f'1/{each:g}' for _, each in line.loads)}) = {load:.1f}"),
        Line(place=line.driver, what="lost into them", value=line.loss_db, unit="dB",
             provenance=line.provenance, by="loading.loading_loss_db",
             inputs=(("source_ohm", ohm), ("input_ohm", load)),
             worked=f"-20 lg(1 + {ohm:g} / {load:.1f}) = {line.loss_db:.2f}"),
    ]  # fmt: skip
    lines += [
        Line(place=line.driver, what=f"with {desks} {'desk' if desks == 1 else 'desks'}",
             value=loss, unit="dB", provenance="assumed", by="loading.loading_loss_db")
        for desks in DESKS
        if (loss := line.with_desks_db(desks)) is not None
    ]  # fmt: skip
    own, hung = likely(ohm), [likely(each) for _, each in line.loads]
    most = loading_loss_db(source_ohm=own.high, input_ohm=[each.low for each in hung])
    least = loading_loss_db(source_ohm=own.low, input_ohm=[each.high for each in hung])
    return Reason(figure="load", value=line.loss_db, low=float(most), high=float(least), unit="dB",
                  lines=tuple(lines), missing=missing)  # fmt: skip


def why_phantom(found: FedLine | None, name: str) -> Reason:
    """The volts left at a microphone, by who feeds it."""
    if found is None:
        return Reason(figure="phantom", value=None, low=None, high=None, unit="V", lines=(),
                      missing=(f"phantom_ma of what {name} is taken with",))  # fmt: skip
    need = found.needs_ma
    half = float(feed_ohm(P48_LEG_OHM))
    one, two, pulled = (found.volts[how] for how in found.volts)
    worth = need.provenance
    inputs = (("current_ma", need), ("supply_v", Quantity(P48_V, "datasheet")))
    lines = (
        Line(place=name, what="draws", value=need, unit="mA", provenance=worth),
        Line(place=name, what="one feeder", value=one, unit="V", provenance=worth,
             by="phantom48.microphone_v", inputs=inputs,
             worked=f"{P48_V:g} - {need:g} / 1000 x {half:g} = {one:.2f}"),
        Line(place=name, what="two feeders", value=two, unit="V", provenance=worth,
             by="phantom48.shared_microphone_v",
             worked=f"(2 x {P48_V:g} / {half:g} - {need:g} / 1000) x {half:g} / 2 = {two:.2f}"),
        Line(place=name, what="one feeder, the other's resistors at earth", value=pulled, unit="V",
             provenance=worth, by="phantom48.shared_microphone_v",
             worked=f"({P48_V:g} / {half:g} - {need:g} / 1000) x {half:g} / 2 = {pulled:.2f}"),
        Line(place=name, what="the least a supply in tolerance leaves", value=least_v(need),
             unit="V", provenance=worth, by="phantom48.supply",
             worked=f"44 - {need:g} / 1000 x {half:g} = {least_v(need):.2f}"),
    )  # fmt: skip
    told = likely_volts(found)[0]
    return Reason(figure="phantom", value=one, low=told.low, high=told.high, unit="V",
                  lines=lines)  # fmt: skip
