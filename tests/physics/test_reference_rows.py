"""Every row of the tables of figures is called by a test, or left out with its reason."""

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest

from rigproof.physics import colours, connectors
from tests.linecheck import test_listen_meters
from tests.physics import (
    test_balance,
    test_cablerun,
    test_conductors,
    test_delays,
    test_exposure,
    test_frames,
    test_headphones,
    test_heat,
    test_hops,
    test_intermod,
    test_leads,
    test_levels,
    test_lifting,
    test_loading,
    test_mains,
    test_microphones,
    test_noise,
    test_phantom48,
    test_rackgrid,
    test_radio,
    test_ratings,
    test_supply,
)
from tests.reference.rows import Calls, Row, assert_agrees, judged_by, matching, read

ACCOUNT = Path(__file__).parents[2] / "docs" / "reference-rows.md"


def _pin(row: Row) -> float:
    conductor = row.text("conductor").partition(" ")[0]
    return connectors.db25_analogue_pin(int(row["channel"]), conductor)  # type: ignore[arg-type]


def _unused_pin(row: Row) -> float:
    used = {
        connectors.db25_analogue_pin(channel, leg)
        for channel in range(1, 9)
        for leg in ("hot", "cold", "shield")
    }
    (free,) = set(range(1, 26)) - used
    return free


def _xlr_pin(carries: str) -> float:
    return float({what: pin for pin, what in connectors.line_pins("xlr").items()}[carries])


CALLS: Calls = {
    ("splitters", "AES59 25-way D-sub, analogue channel *"): _pin,
    ("splitters", "AES59 25-way D-sub, unused pin"): _unused_pin,
    ("splitters", "AES14 / IEC 60268-12 XLR shield"): lambda row: _xlr_pin("shield"),
    ("splitters", "AES14 / IEC 60268-12 XLR cold (return)"): lambda row: _xlr_pin("cold"),
    ("splitters", "polarity of a positive pressure *"): lambda row: _xlr_pin("hot"),
    ("splitters", "TRS jack, balanced mono: *"): lambda row: connectors.line_pins("jack-trs")[
        row.text("contact")
    ],
    ("splitters", "TRS jack, unbalanced stereo *"): lambda row: connectors.phones_pins()[
        row.text("contact")
    ],
    ("splitters", "TRS jack, insert: *"): lambda row: connectors.insert_pins()[row.text("contact")],
    ("splitters", "IEC 60062 colour for digit *"): lambda row: colours.number_colours(
        row.text("digit")
    )[0],
}


@judged_by(CALLS)
def test_published(row: Row, call: object) -> None:
    assert callable(call)
    assert_agrees(row, call(row))


AUDIO: dict[str, Calls] = {
    "tests/linecheck/test_listen_meters.py": test_listen_meters.CALLS,
    "tests/physics/test_delays.py": test_delays.CALLS,
    "tests/physics/test_exposure.py": test_exposure.CALLS,
    "tests/physics/test_headphones.py": test_headphones.CALLS,
    "tests/physics/test_levels.py": test_levels.CALLS,
    "tests/physics/test_loading.py": test_loading.CALLS,
    "tests/physics/test_microphones.py": test_microphones.CALLS,
    "tests/physics/test_noise.py": test_noise.CALLS,
    "tests/physics/test_phantom48.py": test_phantom48.CALLS,
    "tests/physics/test_reference_rows.py": CALLS,
}
SYSTEMS: dict[str, Calls] = {
    "tests/physics/test_balance.py": test_balance.CALLS,
    "tests/physics/test_cablerun.py": test_cablerun.CALLS,
    "tests/physics/test_conductors.py": test_conductors.CALLS,
    "tests/physics/test_frames.py": test_frames.CALLS,
    "tests/physics/test_heat.py": test_heat.CALLS,
    "tests/physics/test_hops.py": test_hops.CALLS,
    "tests/physics/test_intermod.py": test_intermod.CALLS,
    "tests/physics/test_leads.py": test_leads.CALLS,
    "tests/physics/test_lifting.py": test_lifting.CALLS,
    "tests/physics/test_mains.py": test_mains.CALLS,
    "tests/physics/test_rackgrid.py": test_rackgrid.CALLS,
    "tests/physics/test_radio.py": test_radio.CALLS,
    "tests/physics/test_ratings.py": test_ratings.CALLS,
    "tests/physics/test_supply.py": test_supply.CALLS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """A table of rows, the tests that call them, and the part of the document about them."""

    title: str
    rows: list[Row]
    tables: dict[str, Calls]

    @property
    def text(self) -> str:
        text = ACCOUNT.read_text(encoding="utf-8")
        return text.partition(f"\n## {self.title}\n")[2].partition("\n## ")[0]


ACCOUNTS = [
    Account(title="Audio", rows=read("audio.csv"), tables=AUDIO),
    Account(title="Systems", rows=read("systems.csv"), tables=SYSTEMS),
]
each_account = pytest.mark.parametrize("account", ACCOUNTS, ids=lambda account: account.title)


@each_account
def test_no_two_rows_share_a_name(account: Account) -> None:
    assert len({(row.topic, row.case) for row in account.rows}) == len(account.rows)


@each_account
def test_every_row_is_called_or_left_out_with_a_reason(account: Account) -> None:
    left_out = re.findall(r"^- `(.+)`$", account.text, re.MULTILINE)
    assert len(left_out) == len(set(left_out))
    called = {
        row.case: sum(len(matching(calls, row)) for calls in account.tables.values())
        for row in account.rows
    }
    assert [case for case, times in called.items() if times == 0 and case not in left_out] == []
    assert [case for case, times in called.items() if times > 1] == [], "two calls for one row"
    assert [case for case in left_out if called.get(case) != 0] == [], "listed, but called"


@each_account
def test_every_reason_stands_above_its_rows(account: Account) -> None:
    """In the list of what is left out, each run of rows follows a sentence."""
    listed = account.text.partition("### Left out")[2]
    blocks = [block for block in re.split(r"\n{2,}", listed) if block.strip()]
    for before, block in zip([None, *blocks], blocks, strict=False):
        if block.startswith("- `"):
            assert before is not None
            assert before.rstrip().endswith(":")
            assert not before.startswith("- `")


@each_account
def test_every_call_is_for_a_row(account: Account) -> None:
    idle = [
        name
        for calls in account.tables.values()
        for name, call in calls.items()
        if not any(call in matching({name: call}, row) for row in account.rows)
    ]
    assert idle == []


@pytest.mark.parametrize(
    ("account", "name"),
    [
        pytest.param(account, name, id=f"{account.title}-{name}")
        for account in ACCOUNTS
        for name in account.tables
    ],
)
def test_the_account_counts_right(account: Account, name: str) -> None:
    count = sum(bool(matching(account.tables[name], row)) for row in account.rows)
    assert f"| `{name}` | {count} |" in account.text


@each_account
def test_the_account_gives_the_totals(account: Account) -> None:
    called = Counter(
        any(matching(calls, row) for calls in account.tables.values()) for row in account.rows
    )
    line = f"Of {len(account.rows)} rows {called[True]} are tests and {called[False]} are left out."
    assert line in account.text
