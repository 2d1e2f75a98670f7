"""How much level a source loses into the inputs hung on it.

A splitter puts several preamps in parallel on one microphone. Resistive only: cable capacitance
is `physics.cable`. A loss is a level change and never above 0.
"""

from collections.abc import Iterable

from rigproof.physics._arrays import Floats, added, log10

# Rule of bridging: an input of ten times the source's impedance takes less than 1 dB.
BRIDGING_RATIO: float = 10.0


def parallel_ohm(impedances_ohm: Iterable[Floats]) -> Floats:
    """Resistances side by side, as one.

    1 / sum(1/R). Derived: Kirchhoff's current law. An open input is an infinite resistance.

    >>> parallel_ohm([1500, 1500])
    750.0
    """
    return 1 / added([1 / one_ohm for one_ohm in impedances_ohm])


def loading_loss_db(*, source_ohm: Floats, input_ohm: Iterable[Floats]) -> Floats:
    """Level change when these inputs load the source (never above 0).

    20 lg(Zin / (Zsource + Zin)), Zin = all inputs in parallel.
    Derived: voltage divider. Assumes resistive impedances and passive split legs.

    >>> round(loading_loss_db(source_ohm=150, input_ohm=[2000, 2000]), 2)
    -1.21
    """
    # Written as 1 / (1 + Zs sum(1/Zin)), so that an open input costs nothing.
    load_s = added([1 / one_ohm for one_ohm in input_ohm])
    return -20 * log10(1 + source_ohm * load_s)


def leg_loss_db(
    *,
    source_ohm: Floats,
    series_ohm: Floats,
    input_ohm: Floats,
    others_ohm: Iterable[Floats] = (),
) -> Floats:
    """Level at the end of one leg of a split, against the open source.

    The leg has resistance in series (build-out resistors, the windings of a 1:1 transformer, a
    long core) before its input; `others_ohm` are what hangs on the source beside this leg, each
    with its own series resistance in it. Derived: two voltage dividers.

    >>> round(leg_loss_db(source_ohm=150, series_ohm=80, input_ohm=1500, others_ohm=[1500]), 2)
    -2.0
    """
    leg_ohm = series_ohm + input_ohm
    all_ohm = list(others_ohm)
    all_ohm.append(leg_ohm)
    shared_db = loading_loss_db(source_ohm=source_ohm, input_ohm=all_ohm)
    return shared_db + loading_loss_db(source_ohm=series_ohm, input_ohm=[input_ohm])


def stepped_db(turns_ratio: float) -> float:
    """How far a transformer steps a voltage up or down.

    20 log10(n), n = secondary turns over primary turns. Derived: ideal transformer.

    >>> round(stepped_db(0.1), 2)
    -20.0
    """
    return 20 * log10(turns_ratio)


def transformer_leg_ohm(
    *,
    primary_ohm: Floats,
    secondary_ohm: Floats,
    input_ohm: Floats,
    turns_ratio: float = 1.0,
) -> Floats:
    """What a transformer leg puts on the source: its windings and the input, seen from the primary.

    primary + (secondary + input) / n^2, n = secondary turns over primary turns.
    Derived: ideal transformer with winding resistance. Assumes mid band: the core's inductance
    loads the source further down low, the windings' capacitance up high.

    >>> transformer_leg_ohm(primary_ohm=40, secondary_ohm=40, input_ohm=1500)
    1580.0
    """
    return primary_ohm + (secondary_ohm + input_ohm) / turns_ratio**2


def transformer_leg_loss_db(
    *,
    source_ohm: Floats,
    primary_ohm: Floats,
    secondary_ohm: Floats,
    input_ohm: Floats,
    others_ohm: Iterable[Floats] = (),
    turns_ratio: float = 1.0,
) -> Floats:
    """Level at the input behind a transformer leg, against the open source.

    Derived: voltage dividers with the impedances seen through an ideal transformer, times n. With
    n above 1 the only loss that may come out above 0: the transformer steps the voltage up.

    >>> round(transformer_leg_loss_db(source_ohm=150, primary_ohm=40, secondary_ohm=40,
    ...     input_ohm=1500, others_ohm=[1500]), 2)
    -2.0
    """
    squared_ratio = turns_ratio**2
    at_primary_db = leg_loss_db(
        source_ohm=source_ohm,
        series_ohm=primary_ohm + secondary_ohm / squared_ratio,
        input_ohm=input_ohm / squared_ratio,
        others_ohm=others_ohm,
    )
    return at_primary_db + 20 * log10(turns_ratio)


def seen_from_input_ohm(
    *, source_ohm: Floats, others_ohm: Iterable[Floats] = (), series_ohm: Floats | None = None
) -> Floats:
    """The resistance that one input looks back into: what its own thermal noise is made by.

    Source and other inputs in parallel, then the leg's series resistance. Derived: Thevenin.
    Assumes that the other inputs are resistors at room temperature, as bias and 48 V feed
    resistors are.

    >>> round(seen_from_input_ohm(source_ohm=150, others_ohm=[1500]), 1)
    136.4
    """
    all_ohm = list(others_ohm)
    all_ohm.append(source_ohm)
    shared_ohm = parallel_ohm(all_ohm)
    return shared_ohm if series_ohm is None else shared_ohm + series_ohm
