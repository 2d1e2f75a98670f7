"""Each command from the outside: words in, text or JSON and an exit code out."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from rigproof.cli.commands import COMMANDS
from rigproof.cli.new import player_of
from tests.cli.conftest import SMALL, Run

NOTHING = """\
format: 1
rig:
  name: Nothing
  version: "1"
  valid_until: 2030-12-31
  contact: {name: Ana, phone: "+00 555 0100"}
"""


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_no_words_show_what_there_is(run: Run) -> None:
    outcome = run()
    assert outcome.code == 2
    assert not outcome.out
    assert all(f"  {command} " in outcome.err for command in COMMANDS)


@pytest.mark.parametrize("words", [["--help"], ["-h"], ["help"]])
def test_help(run: Run, words: list[str]) -> None:
    outcome = run(*words)
    assert outcome.code == 0
    assert "Exit codes" in outcome.out


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command(run: Run, command: str) -> None:
    one, other = run(command, "--help"), run("help", command)
    assert one == other
    assert one.code == 0
    assert one.out.startswith(f"It goes: rigproof {command}")
    assert "--json" in one.out


def test_version(run: Run) -> None:
    assert re.fullmatch(r"rigproof \d+\.\d+\S*\n", run("--version").out)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["chekc"], 'Did you mean "rigproof check"?'),
        (["zzz"], "There are: new, check"),
        (["check", "--jsn"], 'Did you mean "--json"?'),
        (["trace", "."], "missing: "),
        (["history", "--show", "three"], "--show"),
        (["history", "--show", "1", "--restore", "1"], "not allowed with"),
        (["new"], "missing: FOLDER"),
        (["history", "--restore", "x"], '--restore takes a number, not "x"'),
        (["book", "--paper", "a3"], '--paper is a4 or letter, not "a3"'),
        (["check", "a", "b"], 'does not know "b"'),
    ],
)
def test_words_that_mean_nothing(run: Run, words: list[str], says: str) -> None:
    outcome = run(*words)
    assert outcome.code == 2
    assert not outcome.out
    assert says in outcome.err
    assert run(*words, "--json").json["faults"]


# check


def test_check_says_what_where_and_what_to_do(run: Run, small: Path) -> None:
    text = SMALL.replace("plug: mixer.in.12, channel: 12", "plug: split.in.8, channel: 8")
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    outcome = run("check", small)
    assert outcome.code == 1
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "source: click" in row)
    assert f"rig.yaml:{line}:5  private.reaches-house" in outcome.out
    way = "Click → Split, in 8 → Split, transformer 8 → Split, iso 8 → the house, line 8"
    assert f"Way: {way}" in " ".join(outcome.out.split())
    assert (
        outcome.out.index("STOP")
        < outcome.out.index("Found: 1 stop")
        < outcome.out.index("Not looked at:")
    )


def test_check_as_json(run: Run, small: Path) -> None:
    answer = run("check", small, "--json").json
    result = answer["result"]
    assert answer["command"] == "check"
    assert sum(result["counts"].values()) == len(result["findings"])
    assert result["not_looked_at"]
    assert result["clean"] == (answer["exit"] == 0)


def test_clean_is_zero(run: Run, tmp_path: Path) -> None:
    (tmp_path / "rig.yaml").write_text(NOTHING, encoding="utf-8")
    outcome = run("check", tmp_path)
    assert outcome.code == 0
    assert "Clean: " in outcome.out
    assert "nothing in it yet" in outcome.out
    assert run("check", tmp_path / "rig.yaml").out == outcome.out


def test_check_here(run: Run, small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(small)
    assert "Mossgate Three: Small rig" in run("check").out


def test_planned(run: Run, small: Path) -> None:
    text = SMALL.replace("  - {source: click, plug: mixer.in.12, channel: 12}\n", "")
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    assert "click" in run("check", small, "--planned").out.partition("Filled in")[2]
    assert "Filled in" not in run("check", small).out
    planned = run("check", small, "--json").json["result"]["planned"]
    assert any(entry["for"] == "click" for entry in planned)


def test_all_faults_of_a_file_in_one_go(run: Run, small: Path) -> None:
    text = SMALL.replace("player: bo", "player: boo").replace("part: voices", "part: vioces")
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    outcome = run("check", small)
    assert outcome.code == 2
    assert not outcome.out
    faults = run("check", small, "--json").json["faults"]
    assert faults
    assert all(fault["file"] == "rig.yaml" and fault["line"] for fault in faults)
    for fault in faults:
        assert f"rig.yaml:{fault['line']}:{fault['column']}: " in outcome.err


@pytest.mark.parametrize("command", [["check"], ["book"], ["history"]])
def test_no_rig_there(run: Run, tmp_path: Path, command: list[str]) -> None:
    outcome = run(*command, tmp_path / "nowhere")
    assert outcome.code == 2
    assert "there is no such file or folder" in squeezed(outcome.err)


# trace


def test_trace_shows_each_hop_and_the_sums(run: Run, small: Path) -> None:
    outcome = run("trace", small, "voice", "ana")
    assert outcome.code == 0
    rows = [squeezed(line) for line in outcome.out.splitlines()]
    assert rows[0] == "Lead voice to the ears of Ana Ørn"
    assert "0 Lead voice" in rows
    assert "3 Split, in 1 plugged in passes the plug on stage" in rows
    assert "5 Mixer, in 1 lead passes to-mixer" in rows
    assert "6 preamp 1 inside +36.0a" in rows
    assert any(row.startswith("9 bus 1-2 sent -3.0a 0.1t Mixer") for row in rows)
    # 36 dB in the preamp and -3 dB in the send; the amplifier says nothing.
    assert "Gain: +33.0 dB from assumed figures; not stated: Amp, amplifier 1-2." in rows
    # Two converters of 0.4 ms, channel and bus of 0.1 ms each.
    assert "Delay: 1.0 ms from typical figures." in rows


def test_trace_as_json(run: Run, small: Path) -> None:
    result = run("trace", small, "voice", "ana", "--json").json["result"]
    (way,) = result["ways"]
    assert way["gain_db"]["low"] == way["gain_db"]["high"] == 33
    assert way["gain_db"]["from"] == "assumed"
    assert [hop["lanes"] for hop in way["hops"]][-1] == ["ear:ana.1", "ear:ana.2"]


def test_both_lanes_of_a_pair_are_one_way(run: Run, small: Path) -> None:
    outcome = run("trace", small, "keys", "house")
    assert outcome.code == 0
    assert "Way 2" not in outcome.out
    assert "the house, lines 3-4" in outcome.out
    assert "isolated by transformer" in outcome.out


def test_names_of_people_and_sources_do(run: Run, small: Path) -> None:
    by_id = run("trace", small, "voice", "ana")
    assert run("trace", small, "lead VOICE", "Ana Ørn") == by_id


@pytest.mark.parametrize(
    ("source", "listener", "says"),
    [
        ("voise", "ana", 'Did you mean "voice" (Lead voice)?'),
        ("voice", "anna", 'Did you mean "ana"'),
        ("zzz", "ana", "This rig has: voice, keys, click."),
        ("voice", "hous", 'Did you mean "house"'),
    ],
)
def test_the_nearest_right_name(
    run: Run, small: Path, source: str, listener: str, says: str
) -> None:
    outcome = run("trace", small, source, listener)
    assert outcome.code == 2
    assert says in squeezed(outcome.err)


def test_no_way_says_how_far_and_what_is_missing(run: Run, small: Path) -> None:
    outcome = run("trace", small, "click", "ana")
    assert outcome.code == 1
    text = squeezed(outcome.out)
    assert "Click to the ears of Ana Ørn: there is no way." in text
    assert "The signal gets as far as: - Mixer, channel 12" in text
    assert "if somebody set: - Mixer, channel 12 → Mixer, bus 1" in text
    result = run("trace", small, "click", "ana", "--json").json["result"]
    assert result["unset"] == [["mixer.ch.12", "mixer.bus.1"]]


def test_no_way_without_a_lead(run: Run, small: Path) -> None:
    text = re.sub(r"  - \{id: to-belt.*\n", "", SMALL)
    (small / "rig.yaml").write_text(text, encoding="utf-8")
    outcome = run("trace", small, "voice", "ana")
    assert outcome.code == 1
    assert "a lead, a stream or a plug is missing" in squeezed(outcome.out)
    assert "Belt, in 1-2" in outcome.out


def test_private_is_meant_to_stay_away(run: Run, small: Path) -> None:
    outcome = run("trace", small, "click", "house")
    assert outcome.code == 1
    assert "It is for the band only" in outcome.out


def test_a_listener_without_ears(run: Run, small: Path) -> None:
    outcome = run("trace", small, "keys", "bo")
    assert outcome.code == 1
    assert "Nothing leads to this listener" in outcome.out


def test_a_show_has_its_own_ways(run: Run, small: Path) -> None:
    show = """\
venues: [{id: club, name: Club, desk: {takes: tails, lines: 8}}]
shows: [{id: late, date: 2030-01-01, venue: club, without: [bo]}]
"""
    (small / "rig.yaml").write_text(SMALL + show, encoding="utf-8")
    assert run("trace", small, "keys", "house").code == 0
    assert run("trace", small, "keys", "house", "--show", "late").code == 2
    assert 'Did you mean "late"?' in run("trace", small, "keys", "house", "--show", "lat").err


# explain


def test_explain_tells_all_of_a_rule(run: Run) -> None:
    outcome = run("explain", "private.reaches-house")
    assert outcome.code == 0
    for word in ("STOP", "Why.", "What to do.", "Source.", "click, plug: split.in.8"):
        assert word in outcome.out


def test_explain_list_has_every_rule_once(run: Run) -> None:
    listed = run("explain", "--list")
    rules = run("explain", "--json").json["result"]["rules"]
    ids = [rule["id"] for rule in rules]
    assert len(ids) > 30
    for identifier in ids:
        assert len(re.findall(rf"^  {re.escape(identifier)} ", listed.out, re.MULTILINE)) == 1


def test_an_unknown_rule(run: Run) -> None:
    outcome = run("explain", "private.reaches-hous")
    assert outcome.code == 2
    assert 'Did you mean "private.reaches-house"?' in squeezed(outcome.err)


# schema


def test_schemas_are_schemas_and_take_the_rig(run: Run, small: Path) -> None:
    import yaml

    for option in ([], ["--gear"], ["--answers"]):
        printed = run("schema", *option)
        assert printed.code == 0
        schema = json.loads(printed.out)
        jsonschema.Draft202012Validator.check_schema(schema)
        assert run("schema", *option, "--json").json["result"]["schema"] == schema
    rig = yaml.safe_load(SMALL)
    jsonschema.validate(rig, json.loads(run("schema").out))


# new


PLAYERS = (
    ["--player", "Ana:bass and voice:wireless"],
    ["--player", "Ana:drums", "--player", "Ana:keys and vocals"],
    ["--player", "Юлия:theremin", "--player", "Bo: acoustic guitar, sings : wired"],
    [w for n in range(7) for w in ("--player", f"Player {n}:voice")],
)


@pytest.mark.parametrize("players", PLAYERS)
@pytest.mark.parametrize("house", ["tails", "mixed", "unknown"])
def test_new_checks_without_a_stop(
    run: Run, tmp_path: Path, players: list[str], house: str
) -> None:
    folder = tmp_path / "deep" / "rig"
    made = run("new", folder, "--band", "The: odd #band", "--house", house, *players)
    assert made.code == 0, made.err
    counts = run("check", folder, "--json").json["result"]["counts"]
    assert counts["stop"] == 0
    text = (folder / "rig.yaml").read_text(encoding="utf-8")
    assert text.startswith("# yaml-language-server: $schema=./rig.schema.json\n")
    assert (folder / "rig.schema.json").is_file()
    assert run("history", folder, "--json").json["result"]["versions"][0]["note"] == "started"


def test_new_never_overwrites(run: Run, small: Path) -> None:
    outcome = run("new", small, "--player", "Ana:voice")
    assert outcome.code == 2
    assert "stays as it is" in squeezed(outcome.err)
    assert (small / "rig.yaml").read_text(encoding="utf-8") == SMALL


def test_new_takes_a_mixer_and_refuses_a_small_one(run: Run, tmp_path: Path) -> None:
    assert run("new", tmp_path / "a", "--player", "A:voice", "--mixer", "mixer-rack-32").code == 0
    assert "type: mixer-rack-32" in (tmp_path / "a" / "rig.yaml").read_text(encoding="utf-8")
    many = [w for n in range(5) for w in ("--player", f"P{n}:drums, keys, guitar and voice")]
    outcome = run("new", tmp_path / "b", *many, "--mixer", "mixer-rack-12")
    assert outcome.code == 2
    assert "mixer-rack-12 has 12 inputs" in squeezed(outcome.err)
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--player", "Ana"],
        ["--player", "Ana:voice:steam"],
        ["--player", ":voice"],
        ["--player", "A:voice", "--inputs", "-3"],
        ["--player", "A:voice", "--inputs", "many"],
        ["--player", "A:voice", "--inputs", "500"],
        ["--player", "A:voice", "--mixer", "none"],
        ["--player", "A:voice", "--house", "castle"],
        [w for n in range(30) for w in ("--player", f"P{n}:voice")],
    ],
)
def test_new_refuses_what_it_cannot_start(run: Run, tmp_path: Path, words: list[str]) -> None:
    outcome = run("new", tmp_path / "x", *words)
    assert outcome.code == 2
    assert outcome.err.strip()
    assert not (tmp_path / "x").exists()


def test_new_as_json(run: Run, tmp_path: Path) -> None:
    result = run("new", tmp_path / "x", "--player", "Ana:voice", "--json").json["result"]
    assert Path(result["rig"]).is_file()
    assert Path(result["schema"]).is_file()


def test_new_when_the_answers_end(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def end(prompt: str) -> str:
        raise EOFError

    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", end)
    outcome = run("new", tmp_path / "x")
    assert outcome.code == 2
    assert "the answers ended before the questions" in outcome.err
    assert not (tmp_path / "x").exists()


def test_a_player_in_words() -> None:
    player = player_of(" Ana : bass: wireless")
    assert (player.name, player.plays, player.wireless) == ("Ana", "bass", True)


def test_new_asks_a_person(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter(["", "Ana", "bass and voice", "wireless", "", "lots", "12", "castle", "mixed"])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    assert run("new", tmp_path / "x").code == 0
    text = (tmp_path / "x" / "rig.yaml").read_text(encoding="utf-8")
    assert "band: Our band" in text
    assert "pack-wireless" in text
    assert "takes: mixed" in text
    assert next(answers, None) is None


@pytest.mark.parametrize(("said", "pack"), [("w-less", ""), ("wirel", "pack-wireless"), ("", "")])
def test_new_asks_again_where_ears_are_neither(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str, pack: str
) -> None:
    """Half a word is understood where it can be only one of the two; the rest is asked again."""
    answers = iter(["", "Ana", "cello", said, *(["wired"] if said == "w-less" else []), "", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    outcome = run("new", tmp_path / "x")
    text = (tmp_path / "x" / "rig.yaml").read_text(encoding="utf-8")
    assert ("pack-wireless" in text) == bool(pack)
    assert ('"wired" or "wireless", please' in outcome.out) == (said == "w-less")


def test_what_comes_next_can_be_typed_as_it_stands(run: Run, tmp_path: Path) -> None:
    outcome = run("new", tmp_path / "our rig", "--player", "Ana:voice")
    assert f'rigproof check "{tmp_path / "our rig"}"' in squeezed(outcome.out)


# history


def test_history_keeps_shows_and_restores(run: Run, small: Path) -> None:
    assert "No version has been kept yet" in squeezed(run("history", small).out)
    assert "kept as version 1" in squeezed(run("history", small, "--keep", "before").out)
    (small / "rig.yaml").write_text(SMALL.replace("Small rig", "Other"), encoding="utf-8")
    assert "kept as version 2" in squeezed(run("history", small, "--keep", "after").out)
    listed = run("history", small)
    assert [line.split()[-1] for line in listed.out.splitlines()[1:]] == ["before", "after"]
    assert run("history", small, "--show", "1").out == SMALL
    assert "is back, as version 3" in squeezed(run("history", small, "--restore", "1").out)
    assert (small / "rig.yaml").read_text(encoding="utf-8") == SMALL
    assert len(run("history", small, "--json").json["result"]["versions"]) == 3
    assert run("history", small, "--show", "2", "--json").json["result"]["file"] == "rig.yaml"


def test_history_of_nothing(run: Run, small: Path) -> None:
    outcome = run("history", small, "--restore", "5")
    assert outcome.code == 2
    assert "there is no version 5" in squeezed(outcome.err)


# gains


def test_a_plan_that_does_not_know_every_level_is_not_written(run: Run, small: Path) -> None:
    """What is not known is in no sum: knobs set by such a plan would be too loud in the ears."""
    rig = small / "rig.yaml"
    before = rig.read_bytes()
    shown, written = run("gains", small), run("gains", small, "--write")

    assert "the level of" in squeezed(shown.out)  # the small rig states none
    assert written.code == 2
    assert "nothing was written" in squeezed(written.err)
    assert rig.read_bytes() == before
