"""What FFmpeg and its encoders print, caught and kept as text.

PyAV throws these messages away unless a log level is set, and once one is set it hands what
nobody catches to the logger `libav`, which prints on the error stream where nobody listens. So
the level is set only while somebody listens, and that logger is kept quiet.

Decoders and encoders log from threads of their own, and PyAV's callback takes the interpreter's
lock for every message, wanted or not. PyAV also holds that lock while it frees a codec, and the
codec waits for its threads; a thread that has something to log just then never ends. So whoever
decodes in several threads calls `flush_buffers` before letting go of the decoder, which leaves
its threads idle, and whoever drops an encoder in the middle of its work does so `silenced`.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

Raw = list[tuple[int, str, str]]

_LOGGER = logging.getLogger("libav")
_LOGGER.addHandler(logging.NullHandler())
_LOCK = threading.Lock()
_LOCAL = threading.local()
_listeners = 0

MOST_MESSAGES = 6
"""More different messages than this are counted, not kept: a broken file can print thousands."""

SETTLING_S = 0.05
"""A message that was on its way when the callback was taken off has arrived after this long:
the waiter needs the interpreter's lock once, which others hold for 5 ms at most."""

_QUIET = -8
"""AV_LOG_QUIET of FFmpeg's libavutil/log.h: print nothing."""

HARMLESS = (
    "codec frame size is not set",  # muxers ask for it in vain where packets are copied
    "deprecated pixel format used",  # a full-range name; the range is told beside it
)
"""Messages that say nothing about the footage or the clip."""


class Messages:
    """Messages in the order of their first coming, each with the number of times it came."""

    def __init__(self, *sources: Raw) -> None:
        self._sources = sources
        self._counts: dict[str, int] = {}
        self._left_out = 0

    def settle(self) -> None:
        """Take over what has come in; now and then, so that it does not pile up."""
        for source in self._sources:
            taken = source[:]
            del source[: len(taken)]
            for _, name, text in taken:
                self._add(f"{name.split(',')[0]}: {text.strip()}", 1)

    def _add(self, text: str, times: int) -> None:
        if any(words in text for words in HARMLESS):
            return
        if text in self._counts or len(self._counts) < MOST_MESSAGES:
            self._counts[text] = self._counts.get(text, 0) + times
        else:
            self._left_out += times

    def take_over(self, inner: Messages) -> None:
        """Add what a listener inside this one has heard, which thereby was out of earshot."""
        self.settle()
        inner.settle()
        for text, times in inner._counts.items():
            self._add(text, times)
        self._left_out += inner._left_out

    def mention(self, words: str) -> bool:
        """Whether any message has these words in it."""
        self.settle()
        return any(words in text for text in self._counts)

    def lines(self) -> tuple[str, ...]:
        """One line a message, repetitions counted."""
        self.settle()
        lines = [text if n == 1 else f"{text} ({n} times)" for text, n in self._counts.items()]
        if self._left_out:
            lines.append(f"and {self._left_out} more messages of the codec")
        return tuple(lines)


@contextmanager
def caught(*, this_thread_only: bool = False) -> Iterator[Messages]:
    """Keep what FFmpeg warns of while the block runs; nothing reaches the error stream.

    Parameters
    ----------
    this_thread_only
        Leave out what other threads say, the codec's own ones among them.
    """
    import av  # late: the codec libraries take a tenth of a second to load

    stack: list[Messages] = _LOCAL.__dict__.setdefault("stack", [])
    _listen()
    try:
        with av.logging.Capture(local=True) as own:
            if this_thread_only:
                messages = Messages(own)
                stack.append(messages)
                yield messages
            else:
                with av.logging.Capture(local=False) as others:
                    messages = Messages(own, others)
                    stack.append(messages)
                    yield messages
    finally:
        _stop_listening()
        inner = stack.pop()
        if stack:
            stack[-1].take_over(inner)


@contextmanager
def silenced() -> Iterator[None]:
    """Take the lock-taking callback away while codecs are freed that may still be at work."""
    import av

    with _LOCK:
        _unhook()
    time.sleep(SETTLING_S)
    try:
        yield
    finally:
        with _LOCK:
            if _listeners:
                av.logging.set_level(av.logging.WARNING)


def _unhook() -> None:
    """Give FFmpeg its own callback back, and have that print nothing.

    PyAV's level None would do as much, but its callback compares messages that are on their
    way just then with that None, and prints the failure.
    """
    import av

    av.logging.set_libav_level(_QUIET)
    av.logging.set_level(av.logging.PANIC)
    av.logging.restore_default_callback()


def _listen() -> None:
    global _listeners  # noqa: PLW0603 - FFmpeg has one log level for the whole process
    import av

    with _LOCK:
        if not _listeners:
            av.logging.set_skip_repeated(False)
            av.logging.set_level(av.logging.WARNING)
            _LOGGER.propagate = False
        _listeners += 1


def _stop_listening() -> None:
    global _listeners  # noqa: PLW0603 - FFmpeg has one log level for the whole process
    with _LOCK:
        _listeners -= 1
        if not _listeners:
            _unhook()
            _LOGGER.propagate = True
