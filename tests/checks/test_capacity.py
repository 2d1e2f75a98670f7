import pytest

from tests.checks.looking import findings, says


def channels(last: int) -> str:
    """mixer-rack-16 or -24 with so many of its channels in use."""
    return f"""
gear: [{{id: mixer, type: mixer-rack-24}}]
sources: [{{id: a, name: A, family: keys, mic: mic-vocal-dynamic}}]
patch: [{{source: a, plug: mixer.in.1, channel: 1-{last}}}]
"""


@pytest.mark.published("common practice, no source: 20 to 25 % of the lines spare")
@pytest.mark.parametrize(("used", "told"), [(26, 0), (27, 1), (32, 1)])
def test_a_fifth_of_the_lines_in_use(used: int, told: int) -> None:
    """32 channels: 26 in use leave 6, above 5.2; 27 leave 5, below 5.4."""
    assert len(findings("capacity.no-spare", channels(used))) == told


def test_mixes_on_personal_mixers_need_no_output() -> None:
    people = "".join(f"  - {{id: p{n}, name: P{n}}}\n" for n in range(9))
    boxes = "".join(f"  - {{id: pm{n}, type: personal-mixer-16}}\n" for n in range(9))
    mixes = "".join(
        f"  - {{id: m{n}, listeners: [p{n}], stereo: true, on: pm{n}}}\n" for n in range(9)
    )
    text = f"people:\n{people}gear:\n  - {{id: mixer, type: mixer-rack-18}}\n{boxes}mixes:\n{mixes}"
    assert says("capacity.outputs", text) == []


def test_outputs_of_a_stage_box_count() -> None:
    people = "".join(f"  - {{id: p{n}, name: P{n}}}\n" for n in range(5))
    mixes = "".join(
        f"  - {{id: m{n}, listeners: [p{n}], stereo: true, bus: {2 * n + 1}-{2 * n + 2}}}\n"
        for n in range(5)
    )
    text = f"people:\n{people}mixes:\n{mixes}gear:\n  - {{id: mixer, type: mixer-rack-16}}\n"
    assert len(says("capacity.outputs", text)) == 1
    assert says("capacity.outputs", text + "  - {id: box, type: stage-box-16x8}\n") == []
