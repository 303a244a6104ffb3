"""FFmpeg's messages end with whoever listens, and nowhere else."""

from __future__ import annotations

import logging
import threading

import av
import pytest

from sync.media.ffmpeg_log import MOST_MESSAGES, caught, silenced


def say(text: str, level: int = av.logging.WARNING) -> None:
    av.logging.log(level, "codec", text)


def test_messages_are_counted_and_not_printed(capfd: pytest.CaptureFixture[str]) -> None:
    with caught() as messages:
        say("once")
        say("twice")
        say("twice")
        say("a detail", av.logging.INFO)
    assert messages.lines() == ("codec: once", "codec: twice (2 times)")
    assert messages.mention("twice")
    assert not messages.mention("detail")
    say("nobody listens")
    assert capfd.readouterr() == ("", "")


def test_the_same_message_is_heard_again_by_the_next_listener() -> None:
    """PyAV leaves out repetitions unless told not to."""
    for _ in range(2):
        with caught() as messages:
            say("again")
        assert messages.lines() == ("codec: again",)


def test_a_listener_inside_another_hands_on_what_it_heard() -> None:
    with caught() as outer:
        say("before")
        with caught(this_thread_only=True) as inner:
            say("inside")
        say("after")
    assert inner.lines() == ("codec: inside",)
    assert outer.lines() == ("codec: before", "codec: inside", "codec: after")


def test_other_threads_are_heard_or_left_out(capfd: pytest.CaptureFixture[str]) -> None:
    for only, want in ((False, ("codec: from afar",)), (True, ())):
        with caught(this_thread_only=only) as messages:
            thread = threading.Thread(target=say, args=("from afar",))
            thread.start()
            thread.join()
        assert messages.lines() == want
    assert capfd.readouterr().err == ""


def test_a_flood_is_counted_and_not_kept() -> None:
    with caught() as messages:
        for n in range(1000):
            say(f"message {n}")
        messages.settle()
        for n in range(1000):
            say(f"message {n}")
    lines = messages.lines()
    assert len(lines) == MOST_MESSAGES + 1
    assert lines[0] == "codec: message 0 (2 times)"
    assert lines[-1] == f"and {2 * (1000 - MOST_MESSAGES)} more messages of the codec"


def test_harmless_messages_are_left_out() -> None:
    with caught() as messages:
        say("track 1: codec frame size is not set")
    assert messages.lines() == ()


def test_silence_holds_for_its_block_alone(capfd: pytest.CaptureFixture[str]) -> None:
    with caught() as messages:
        with silenced():
            say("lost")
            say("lost, and serious", av.logging.ERROR)
        say("heard")
    assert messages.lines() == ("codec: heard",)
    say("nobody listens", av.logging.ERROR)
    assert capfd.readouterr() == ("", "")
    assert logging.getLogger("libav").propagate
