"""What each castor of a case has to carry.

Rolling by hand on a floor; never for lifting, hanging or towing. Floors are not flat and castors
lose a screw, so guidance never spreads the weight evenly over all of them.
"""

from rigproof.physics._arrays import Floats

INDOOR_FACTOR_RATIO: float = 1.5  # castor guidance: 1.5 to 2
OUTDOOR_FACTOR_RATIO: float = 2.2  # castor guidance: outdoors by hand 1.5 to 2.2


def castor_kg(*, total_kg: Floats, castors: int) -> Floats:
    """The rating a castor needs when one of them hangs in the air.

    total / (N - 1). Source: castor guidance, divide by one less than the number fitted. The total
    is the case, its lids and all that is in it.

    >>> castor_kg(total_kg=60, castors=4)
    20.0
    """
    return total_kg / (castors - 1)


def factored_castor_kg(
    *, total_kg: Floats, castors: int, factor_ratio: float = INDOOR_FACTOR_RATIO
) -> Floats:
    """The rating a castor needs by the other rule in use: an even share times a factor.

    total * S / N. Source: castor guidance, S from 1.5 (even floors, by hand) to 2.2 (outdoors).

    >>> factored_castor_kg(total_kg=70, castors=4)
    26.25
    """
    return total_kg * factor_ratio / castors
