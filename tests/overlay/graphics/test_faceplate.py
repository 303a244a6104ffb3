"""Faceplates say what they say, and what is wrong with them is said in one sentence."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from overlay.errors import FaceplateError
from overlay.graphics import faceplate as faceplate_module
from overlay.graphics.faceplate import PLACING, load_faceplate
from overlay.graphics.instruments import INSTRUMENTS

FOLDER = Path(faceplate_module.__file__).parent / "faceplates"
LAUNCH = (FOLDER / "launch.toml").read_text()


def test_there_are_faceplates_and_each_loads():
    names = sorted(path.stem for path in FOLDER.glob("*.toml"))
    assert "launch" in names
    for name in names:
        assert load_faceplate(name).name == name


def test_the_launch_shows_four_things():
    launch = load_faceplate("launch")
    shown = {spec.name: (spec.kind, spec.channel) for spec in launch.instruments}
    assert shown == {
        "time": ("neatline", ""),
        "speed": ("readout", "speed"),
        "bow": ("inclinometer", "pitch"),
        "engine": ("dial", "engine_speed"),
    }


def test_a_faceplate_is_read_from_a_path_as_well(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(LAUNCH)
    assert load_faceplate(path).instruments == load_faceplate("launch").instruments
    assert load_faceplate(str(path)).path == path


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('kind = "dial"', 'kind = "dail"', "'dail' is not an instrument.*did you mean 'dial'"),
        ('kind = "dial"', "", "the kind is missing"),
        ('kind = "dial"', "kind = 7", "7 is not an instrument"),
        ('channel = "engine_speed"', 'channel = "engine speed"', "did you mean 'engine_speed'"),
        (
            'channel = "engine_speed"',
            'channel = "pitch"',
            "this dial cannot show 'pitch': it shows",
        ),
        ('channel = "engine_speed"', 'channel = "engine_speed.port"', "cannot show"),
        ('channel = "pitch"', "", "this inclinometer needs a channel"),
        ('kind = "neatline"', 'kind = "neatline"\nchannel = "speed"', "takes no channel"),
        ('anchor = "bottom right"', 'anchor = "bottum right"', "did you mean 'bottom right'"),
        ('anchor = "bottom right"', "anchor = true", "True is not a text in quotes"),
        ('above = "speed"', 'above = "sped"', "there is no instrument 'sped' before this one"),
        ('as_wide_as = "speed"', 'as_wide_as = "engine"', "no instrument 'engine' before"),
        ('name = "bow"', 'name = "speed"', "two instruments are called 'speed'"),
        ('name = "bow"', "", "name: this key is missing"),
        ('label = "bow"', 'lable = "bow"', "lable: this key is not known.*did you mean 'label'"),
        ('size = "lead"', 'size = "huge"', "'huge' cannot stand here .allowed: lead, second"),
        ('size = "lead"', "width = 9", "9 is not a number between 0 and 2"),
        ('size = "lead"', "width = true", "True is not a number"),
        ('size = "lead"', "shift = [0.1]", "is not a list of two numbers"),
        ('size = "lead"', 'shapes = ["round"]', "is not a list of words"),
        ('theme = "chart"', "theme = 1", "1 is not a text"),
        ('theme = "chart"', 'themes = "chart"', "did you mean 'theme'"),
        ('schema = "faceplate/1"', "", "the schema is missing"),
        ('schema = "faceplate/1"', 'schema = "faceplate/2"', "the schema is 'faceplate/2'"),
        ('name = "launch"', "name = launch", "no valid TOML"),
    ],
)
def test_each_mistake_is_one_sentence_with_file_and_key(tmp_path, old, new, sentence):
    assert old in LAUNCH
    path = tmp_path / "mine.toml"
    path.write_text(LAUNCH.replace(old, new, 1))
    with pytest.raises(FaceplateError, match=sentence) as caught:
        load_faceplate(path)
    assert caught.value.path == path
    assert "\n" not in str(caught.value)
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)


def test_the_line_is_that_of_the_key_in_its_own_table(tmp_path):
    path = tmp_path / "mine.toml"
    text = LAUNCH.replace('anchor = "bottom right"', 'anchor = "lower right"')
    path.write_text(text)
    with pytest.raises(FaceplateError) as caught:
        load_faceplate(path)
    line = next(i for i, one in enumerate(text.splitlines(), 1) if "lower right" in one)
    assert (caught.value.line, caught.value.key) == (line, "anchor")


def test_a_missing_key_is_blamed_on_the_head_of_its_table(tmp_path):
    path = tmp_path / "mine.toml"
    text = LAUNCH.replace('name = "bow"\n', "")
    path.write_text(text)
    with pytest.raises(FaceplateError) as caught:
        load_faceplate(path)
    heads = [i for i, one in enumerate(text.splitlines(), 1) if one == "[[instruments]]"]
    assert caught.value.line == heads[2]


def test_more_than_four_things_are_refused(tmp_path):
    path = tmp_path / "mine.toml"
    more = '\n[[instruments]]\nname = "more"\nkind = "readout"\nchannel = "throttle"\n'
    path.write_text(LAUNCH + more)
    with pytest.raises(FaceplateError, match=r"there are 5 instruments.*room for 4"):
        load_faceplate(path)


def test_no_instrument_at_all_is_refused(tmp_path):
    path = tmp_path / "mine.toml"
    for text in ("", "instruments = []\n", "instruments = 3\n"):
        path.write_text('schema = "faceplate/1"\nname = "bare"\n' + text)
        with pytest.raises(FaceplateError, match="there is no instrument"):
            load_faceplate(path)


@pytest.mark.parametrize("name", ["lanch", "missing.toml", "no/such/launch.toml"])
def test_a_faceplate_that_is_not_there_is_said_so(name):
    with pytest.raises(FaceplateError, match=r"did you mean 'launch'|there is no faceplate file"):
        load_faceplate(name)


def test_a_file_that_is_no_text_is_said_so(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FaceplateError, match="not text in UTF-8"):
        load_faceplate(path)


def test_a_folder_is_no_faceplate(tmp_path):
    with pytest.raises(FaceplateError, match="no faceplate file"):
        load_faceplate(tmp_path)


def test_the_options_of_a_kind_do_not_hide_common_keys():
    for kind in INSTRUMENTS.values():
        assert not set(kind.options) & set(PLACING)


def test_a_strip_takes_as_many_thresholds_as_it_can_mark(tmp_path):
    path = tmp_path / "mine.toml"
    strip = '\n[[instruments]]\nname = "s"\nkind = "strip"\nchannel = "speed"\n'
    head = 'schema = "faceplate/1"\nname = "mine"\n'
    for thresholds in ("[]", "[10]", "[10, 20, 30]"):
        path.write_text(f"{head}{strip}thresholds = {thresholds}\n")
        (spec,) = load_faceplate(path).instruments
        assert len(spec.options["thresholds"]) == thresholds.count("0")
    path.write_text(f"{head}{strip}thresholds = [1, 2, 3, 4]\n")
    with pytest.raises(FaceplateError, match="0 to 3 numbers"):
        load_faceplate(path)


def test_a_scale_that_falls_is_refused(tmp_path):
    path = tmp_path / "mine.toml"
    dial = '[[instruments]]\nname = "d"\nkind = "dial"\nchannel = "engine_speed"\n'
    path.write_text(f'schema = "faceplate/1"\nname = "mine"\n{dial}scale = [6000, 0]\n')
    with pytest.raises(FaceplateError, match="does not rise"):
        load_faceplate(path)
