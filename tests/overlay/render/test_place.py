"""A clip is at its place when it is whole, and nothing is there before or instead."""

from __future__ import annotations

import errno
import os
import pickle
from pathlib import Path

import pytest

from overlay.errors import OutputError
from overlay.render.place import check_room, placed, write_error


def test_what_is_written_beside_is_moved_when_whole(tmp_path: Path) -> None:
    output = tmp_path / "clip.mp4"
    with placed(output, sources=(), need_bytes=0) as part:
        assert part.parent == tmp_path
        assert part.suffix == ".mp4"
        part.write_bytes(b"film")
        assert not output.exists()
    assert output.read_bytes() == b"film"
    assert list(tmp_path.iterdir()) == [output]


@pytest.mark.parametrize("failure", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_a_failure_leaves_nothing_behind(failure: type[BaseException], tmp_path: Path) -> None:
    output = tmp_path / "clip.mp4"
    output.write_bytes(b"an older clip")
    with pytest.raises(failure), placed(output, sources=(), need_bytes=0) as part:  # noqa: PT012
        part.write_bytes(b"half a fi")
        raise failure
    assert list(tmp_path.iterdir()) == [output]
    assert output.read_bytes() == b"an older clip"


def test_the_footage_is_never_overwritten_by_whatever_name(tmp_path: Path) -> None:
    source = tmp_path / "bow.mp4"
    source.write_bytes(b"footage")
    (tmp_path / "folder").mkdir()
    (tmp_path / "soft.mp4").symlink_to(source)
    os.link(source, tmp_path / "hard.mp4")
    for output in (
        source,
        tmp_path / "folder" / ".." / "bow.mp4",
        tmp_path / "soft.mp4",
        tmp_path / "hard.mp4",
    ):
        with (
            pytest.raises(OutputError, match="would overwrite the footage"),
            placed(output, sources=(source,), need_bytes=0),
        ):
            pass
    assert source.read_bytes() == b"footage"


def test_a_folder_a_missing_folder_and_a_strange_ending_are_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.mp4").mkdir()
    for output, words in (
        (tmp_path / "folder.mp4", "is a folder"),
        (tmp_path / "nowhere" / "clip.mp4", "does not exist"),
        (tmp_path / "clip.gif", r"written as \.gif \(allowed: \.mp4, \.mov\)"),
        (tmp_path / "clip", "without an ending"),
    ):
        with pytest.raises(OutputError, match=words), placed(output, sources=(), need_bytes=0):
            pass


def test_a_disk_without_room_is_noticed_before_the_start(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"the disk has [\d,]+ MB free, and this clip may take"):
        check_room(tmp_path / "clip.mp4", 2**62)
    check_room(tmp_path / "clip.mp4", 0)


def test_a_full_disk_is_named_whoever_reports_it() -> None:
    import av

    reports = (
        OSError(errno.ENOSPC, "No space left on device"),
        av.error.FFmpegError(errno.ENOSPC, "No space left on device"),
    )
    for report in reports:
        error = write_error(report, Path("clip.mp4"))
        assert "the disk is full" in str(error)
        assert str(pickle.loads(pickle.dumps(error))) == str(error)
    other = write_error(OSError(errno.EIO, "Input/output error"), Path("clip.mp4"))
    assert "Input/output error" in str(other)


def test_a_long_name_still_has_room_for_the_temporary_one(tmp_path: Path) -> None:
    output = tmp_path / f"{'n' * 250}.mp4"
    with placed(output, sources=(), need_bytes=0) as part:
        part.write_bytes(b"film")
    assert output.read_bytes() == b"film"
