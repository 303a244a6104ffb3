"""What is no footage is refused in one sentence, before any demuxer follows it."""

from __future__ import annotations

import pickle
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from film import sound_only

from sync.errors import FootageError
from sync.media import probe
from sync.media.opening import FAMILIES, open_footage, sniff

Shoot = Callable[..., Path]

NOT_FOOTAGE = {
    "ffconcat": (b"ffconcat version 1.0\nfile other.mp4\n", "ffconcat"),
    "ffconcat after a mark": (b"\xef\xbb\xbfffconcat version 1.0\n", "ffconcat"),
    "playlist": (b"#EXTM3U\n#EXTINF:4,\nother.ts\n", "playlist"),
    "session": (b"v=0\no=- 0 0 IN IP4 127.0.0.1\n", "SDP"),
    "subtitles": (b"1\n00:00:00,000 --> 00:00:01,000\nhello\n", "subtitles"),
    "web subtitles": (b"WEBVTT\n\n00:00.000 --> 00:01.000\nhello\n", "subtitles"),
    "xml": (b'<?xml version="1.0"?>\n<MPD/>\n', "XML"),
    "png": (b"\x89PNG\r\n\x1a\n" + bytes(64), "picture"),
    "jpeg": (b"\xff\xd8\xff\xe0" + bytes(64), "picture"),
    "csv": (b"time,speed\n0,1\n", "text file"),
    "noise": (bytes(range(128, 256)) * 40, "no container"),
}


@pytest.mark.parametrize("case", NOT_FOOTAGE)
def test_what_only_bears_a_films_name_is_named_for_what_it_is(case: str, tmp_path: Path) -> None:
    data, word = NOT_FOOTAGE[case]
    path = tmp_path / "bow.mp4"
    path.write_bytes(data)
    with pytest.raises(FootageError, match=word) as caught:
        probe(path)
    sentence = str(caught.value)
    assert sentence.startswith(str(path))
    assert sentence.count("\n") == 0
    assert "MP4, MOV, Matroska, MPEG-TS or AVI" in sentence


def test_a_list_that_names_real_footage_is_not_followed(shoot: Shoot, tmp_path: Path) -> None:
    real = shoot("real.mp4", frames=10)
    path = tmp_path / "list.mp4"
    path.write_text(f"ffconcat version 1.0\nfile {real.name}\n")
    with pytest.raises(FootageError, match="ffconcat"):
        probe(path)


def test_a_list_behind_a_films_first_bytes_is_not_followed_either(
    shoot: Shoot, tmp_path: Path
) -> None:
    """The demuxer is the one that the first bytes name; none is ever guessed."""
    real = shoot("real.mp4", frames=10)
    path = tmp_path / "list.mp4"
    path.write_bytes(
        b"\x00\x00\x00\x18ftypisom" + bytes(12) + f"\nffconcat version 1.0\nfile {real}".encode()
    )
    with pytest.raises(FootageError):
        probe(path)


def test_a_movie_that_points_to_another_file_does_not_open_it(shoot: Shoot, tmp_path: Path) -> None:
    """ISO/IEC 14496-12, 8.7.2: a data reference without the self-contained flag names a file."""
    data = bytearray(shoot("real.mp4", frames=10, sound=()).read_bytes())
    at = data.find(b"url \x00\x00\x00\x01")
    assert at > 0
    data[at + 7] = 0
    path = tmp_path / "pointer.mp4"
    path.write_bytes(bytes(data))
    with open_footage(path) as container:
        assert container.name == f"file:{path}"
        assert container.container_options["protocol_whitelist"] == "file"


def test_a_missing_file_and_a_folder_and_an_empty_file_say_so(tmp_path: Path) -> None:
    (tmp_path / "empty.mp4").touch()
    for path, word in (
        (tmp_path / "nowhere.mp4", "no such file"),
        (tmp_path, "folder"),
        (tmp_path / "empty.mp4", "is empty"),
    ):
        with pytest.raises(FootageError, match=word):
            probe(path)


def test_a_name_that_reads_like_a_protocol_is_only_a_name(
    shoot: Shoot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = shoot("real.mp4", frames=5)
    odd = tmp_path / "concat:real.mp4|real.mp4"
    odd.write_bytes(real.read_bytes())
    monkeypatch.chdir(tmp_path)
    assert probe(Path("concat:real.mp4|real.mp4")).width == 320


def test_a_recording_that_was_cut_off_before_its_index_says_so(
    shoot: Shoot, tmp_path: Path
) -> None:
    """FFmpeg writes the index (moov) last unless it is asked for a fast start."""
    whole = shoot("whole.mp4").read_bytes()
    path = tmp_path / "cut.mp4"
    path.write_bytes(whole[: len(whole) * 6 // 10])
    with pytest.raises(FootageError, match="cut off before the camera closed it"):
        probe(path)


def test_a_file_with_sound_alone_has_no_video_track(tmp_path: Path) -> None:
    path = sound_only(tmp_path / "voice.mp4")
    with pytest.raises(FootageError, match="no video track"):
        probe(path)


@pytest.mark.parametrize(
    ("name", "family"),
    [("a.mp4", "mp4"), ("a.mov", "mp4"), ("a.mkv", "matroska"), ("a.ts", "mpegts")],
)
def test_each_container_family_is_known_by_its_first_bytes(
    name: str, family: str, shoot: Shoot
) -> None:
    assert sniff(shoot(name, frames=10)).name == family


def test_the_table_of_families_holds_no_demuxer_that_follows_lists() -> None:
    names = {name for family in FAMILIES for name in family.whitelist.split(",")}
    assert names.isdisjoint({"concat", "hls", "dash", "sdp", "rtsp", "image2", "webvtt", "srt"})


def test_the_errors_survive_a_process_pool(tmp_path: Path) -> None:
    with pytest.raises(FootageError) as caught:
        probe(tmp_path / "nowhere.mp4")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)


def test_nothing_of_ffmpegs_own_is_printed(shoot: Shoot, tmp_path: Path) -> None:
    """A damaged file makes the decoder complain; all of it ends in the list of warnings."""
    data = bytearray(shoot("whole.mp4", container_options={"movflags": "faststart"}).read_bytes())
    for at in range(len(data) // 2, len(data) // 2 + 3000, 7):
        data[at] ^= 0x5A
    path = tmp_path / "bad.mp4"
    path.write_bytes(bytes(data))
    code = (
        "import sys; from pathlib import Path; from sync.media import *\n"
        "f = probe(Path(sys.argv[1])); t = frame_times(f)\n"
        "assert t.warnings, 'the demuxer or its parser must have had something to say'\n"
        "print(len(t), len(pictures(f, [45], 90)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split() == ["60", "1"]


def test_a_box_size_that_lies_ends_in_a_sentence(shoot: Shoot, tmp_path: Path) -> None:
    data = bytearray(shoot("whole.mp4", frames=5).read_bytes())
    at = data.find(b"moov") - 4
    data[at : at + 4] = struct.pack(">I", 40)
    path = tmp_path / "liar.mp4"
    path.write_bytes(bytes(data))
    with pytest.raises(FootageError):
        probe(path)
