"""Sentences judged all at once, against pynmea2, which judges them one at a time."""

from __future__ import annotations

from collections.abc import Callable

import pynmea2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from log_samples import sentence

from sync.readers.nmea_bulk import MOST_CHARACTERS, outline
from sync.readers.nmea_lines import USED_KINDS, sort_sentences

BODIES = {
    "RMC": "GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E",
    "VTG": "GPVTG,220.86,T,,M,2.550,N,4.724,K,A",
    "GGA": "GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000",
    "GLL": "GPGLL,4916.45,N,12311.12,W,225444,A,A",
    "ZDA": "GPZDA,160012.71,11,03,2004,-1,00",
    "HDT": "GPHDT,123.456,T",
    "HDM": "HCHDM,123.4,M",
    "HDG": "INHDG,180,5,W,10,W",
    "ROT": "GPROT,35.6,A",
    "VHW": "IIVHW,,T,,M,06.12,N,11.33,K",
    "XDR": "HCXDR,A,4.5,D,PITCH,A,-12.0,D,ROLL,G,367,,MAGX",
    "RPM": "IIRPM,E,1,2418.2,10.5,A",
}

edits = st.lists(
    st.tuples(st.integers(0, 90), st.integers(0, 3), st.text("$*,!AZ09\r \\\x00é\x85", max_size=4)),
    max_size=2,
)


def said(line: str) -> tuple[str, list[str]]:
    """What pynmea2 makes of a line from its last dollar sign on."""
    try:
        return "sound", pynmea2.parse(line[line.rfind("$") :]).data
    except pynmea2.ChecksumError:
        return "checksum", []
    except pynmea2.SentenceTypeError:
        return "unused", []
    except pynmea2.ParseError:
        return "unreadable", []


@pytest.fixture(params=sorted(USED_KINDS))
def body(request: pytest.FixtureRequest) -> str:
    return BODIES[request.param]


@pytest.mark.parametrize(
    "dress",
    [lambda s: s, lambda s: s + "\r", lambda s: "12:00 " + s, lambda s: s[:-3], str.lower],
    ids=["plain", "carriage return", "prefixed", "without checksum", "lower case"],
)
def test_every_field_is_pynmea2_s(body: str, dress: Callable[[str], str]) -> None:
    line = dress(sentence(body if dress is not str.lower else body.lower()))
    judged, fields = said(line)
    assert judged == "sound"
    (entry,) = sort_sentences(f"{line}\n".encode("latin-1")).by_address.values()
    assert entry.address == body[:5]
    assert [entry.column(i)[0] for i in range(len(fields))] == [f.rstrip("\r") for f in fields]
    assert next(entry.rows()) == [f.rstrip("\r") for f in fields]
    assert entry.column(len(fields)) == [""]


def test_sentences_of_all_kinds_are_plain_and_need_no_parser() -> None:
    data = "".join(f"{sentence(body)}\r\n" for body in BODIES.values()).encode()
    assert outline(data).plain.size == len(BODIES)
    assert outline(data).odd().size == 0


@given(st.sampled_from(sorted(BODIES)), edits)
@settings(deadline=None, max_examples=600)
def test_any_damage_is_judged_as_pynmea2_judges_it(
    kind: str, changes: list[tuple[int, int, str]]
) -> None:
    line = sentence(BODIES[kind])
    for place, cut, more in changes:
        line = line[:place] + more + line[place + cut :]
    found = sort_sentences(line.encode("latin-1"))
    if "$" not in line:
        assert not found.by_address
        return
    judged, fields = said(line)
    assert found.counts["checksum_errors"] == (judged == "checksum")
    assert found.counts["unreadable"] == (judged == "unreadable")
    assert found.counts["sentences"] == (judged in ("sound", "unused"))
    for entry in found.by_address.values():
        got = next(entry.rows())
        assert [x.rstrip() for x in got] == [x.rstrip() for x in fields]


def test_rows_of_many_widths_keep_their_places() -> None:
    bodies = ["GPRMC,1", "GPRMC,1,2,3", "GPRMC,", "GPRMC,1,2"]
    found = sort_sentences("\n".join(map(sentence, bodies)).encode())
    entry = found.by_address["GPRMC"]
    assert entry.widths.tolist() == [1, 3, 1, 2]
    assert [entry.column(i) for i in range(4)] == [
        ["1", "1", "", "1"], ["", "2", "", "2"], ["", "3", "", ""], [""] * 4
    ]  # fmt: skip


def test_a_sentence_longer_than_any_is_none() -> None:
    long = sentence("HCXDR" + ",A,1.0,D,PITCH" * 100)
    assert len(long) > MOST_CHARACTERS
    found = sort_sentences(f"{long}\n{sentence(BODIES['HDT'])}\n".encode())
    assert list(found.by_address) == ["GPHDT"]
    assert found.counts["unreadable"] == 1
