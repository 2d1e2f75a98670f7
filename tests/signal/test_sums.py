"""The sums at the ears: shares that are the whole, and by hand where limiters and knobs come in."""

from math import log10

import pytest

from rigproof.signal.ceilings import EARPHONES
from tests.bands import WHOLE, seen, whole

MIX = """
people: [{{id: ana, name: Ana, ears: {{plug: mixer.phones, earphones: {earphones}}}}}]
sources:
  - {{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}}
  - {{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}}
gear: [{{id: mixer, type: mixer-rack-24}}]
patch:
  - {{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}}
  - {{source: voice, plug: mixer.in.2, channel: 2, gain_db: 30}}
settings: [{settings}]
mixes:
  - {{id: ana, listeners: [ana], bus: 1-2, out: mixer.phones.1-2{limiter},
     sends: [{{from: kick, level_db: 0}}, {{from: voice, level_db: -6}}]}}
"""


@pytest.mark.parametrize("name", WHOLE)
def test_shares_are_the_whole(name: str) -> None:
    view = whole(name)
    for person, ear in view.ears.ears.items():
        shares = view.ears.shares(person)
        assert sum(share.share_ratio for share in shares) == pytest.approx(1)
        power = sum(10 ** (share.spl_dba / 10) for share in shares)
        assert 10 * log10(power) == pytest.approx(ear.hiss_dba, abs=1e-9)


@pytest.mark.published("0 dBu = sqrt(0.6) V; voltage divider; sensitivity of IEC 60268-7")
def test_ceiling_of_a_limiter_by_hand() -> None:
    """mixer-rack-24: 40 ohm; earphones-custom-6: 129.9 dB SPL at 1 V, 32 ohm."""
    text = MIX.format(earphones="earphones-custom-6", settings="", limiter=", limiter_dbu: -8")
    ear = seen(text).ears.ears["ana"]
    across_dbv = -8 + 20 * log10(0.6**0.5) - 20 * log10(1 + 40 / 32)
    assert ear.limited is not None
    assert ear.limited.level_spl == pytest.approx(129.9 + across_dbv, abs=0.01)


def test_earphones_give_no_more_than_their_maker_says() -> None:
    text = MIX.format(earphones="headphones-drummer", settings="", limiter=", limiter_dbu: 30")
    ear = seen(text).ears.ears["ana"]
    assert ear.limited is not None
    if ear.limited.driven_spl > 115:
        assert (ear.limited.level_spl, ear.limited.place) == (115, EARPHONES)
    top = seen(text).ears.loudest("ana")
    assert top is not None
    assert top.level_spl <= 115


def test_no_limiter_no_ceiling() -> None:
    text = MIX.format(earphones="earphones-dual", settings="", limiter="")
    assert seen(text).ears.ears["ana"].limited is None


AMP = """
people: [{{id: ana, name: Ana, ears: {{plug: amp.phones.1, earphones: earphones-dual}}}}]
sources:
  - {{id: kick, name: Kick, family: drums, mic: mic-kick-dynamic, spl_db: 120}}
  - {{id: voice, name: Voice, family: voices, mic: mic-vocal-dynamic, spl_db: 110}}
gear: [{{id: mixer, type: mixer-rack-24}}, {{id: amp, type: headphone-amp-4}}]
leads: [{{id: to-amp, type: y-xlr-2-jack-stereo, from: mixer.out.1-2, to: amp.in.1}}]
patch:
  - {{source: kick, plug: mixer.in.1, channel: 1, gain_db: 20}}
  - {{source: voice, plug: mixer.in.2, channel: 2, gain_db: 30}}
settings: [{settings}]
mixes:
  - {{id: ana, listeners: [ana], bus: 1-2, out: mixer.out.1-2,
     sends: [{{from: kick, level_db: 0}}, {{from: voice, level_db: -6}}]}}
"""


def test_the_floor_is_what_no_open_knob_turns() -> None:
    """headphone-amp-4: 8 uV behind 22 ohm; earphones-dual: 124.7 dB SPL at 1 V, 27 ohm."""
    ear = seen(AMP.format(settings="")).ears.ears["ana"]
    alone = 124.7 + 20 * log10(8e-6) - 20 * log10(1 + 22 / 27)
    assert ear.floor_dba == pytest.approx(alone, abs=0.01)
    assert ear.hiss_dba is not None
    assert ear.hiss_dba > alone
    assert ear.unwritten == ("amp.amp.1", "amp.amp.2")
    assert not ear.planned


def test_a_knob_written_down_leaves_nothing_open() -> None:
    ear = seen(AMP.format(settings="{at: amp.amp.1-2, gain_db: -30}")).ears.ears["ana"]
    assert ear.planned
    assert ear.floor_dba == ear.hiss_dba
    louder = seen(AMP.format(settings="{at: amp.amp.1-2, gain_db: -20}")).ears.ears["ana"]
    assert louder.total_spl == pytest.approx((ear.total_spl or 0) + 10)


def test_total_is_a_sum_of_powers() -> None:
    ear = seen(AMP.format(settings="{at: amp.amp.1-2, gain_db: -30}")).ears.ears["ana"]
    kick, voice = ear.levels_spl["kick"], ear.levels_spl["voice"]
    assert ear.total_spl == pytest.approx(10 * log10(10 ** (kick / 10) + 10 ** (voice / 10)))
