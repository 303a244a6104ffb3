"""The audit's page and document: whole, harmless, the same every time, and plain about what is
wrong, what was not read and what was not held."""

import io
import json
import math
import re
import typing
from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from types import UnionType

import numpy as np
import pytest
from PIL import Image

from overlay.audit.claims.judged import Clash, Judged, Place
from overlay.audit.verdict import (
    Counts,
    Disagreement,
    Input,
    LogRow,
    Piece,
    ShotLine,
    Strip,
    TieCheck,
    Unheld,
    Verdict,
)
from overlay.report.audit_document import audit_document
from overlay.report.audit_page import MOST_ROWS, MOST_WHOLE, audit_html, shown_whole
from overlay.report.audit_pictures import (
    MARK,
    MOST_PX,
    THUMB_PX,
    Pictures,
    Sample,
    crop_png,
    thumb_jpeg,
)
from overlay.report.audit_timeline import COLUMNS, NAMED, lanes_of, timeline_svg
from overlay.report.audit_words import film_time, frames_text, share_text, verdict_line
from overlay.sheet.claims import Claim

T0 = 1_781_151_193.4
HOSTILE = '"><script>alert(1)</script>&amp; \u202eslaV\n| $x$'
VOID = {"meta", "br", "hr", "img", "link", "input"}
COUNTS = Counts(frames=600, frames_read=600, characters=21_400, unread=12, values=6_100, held=6_080)
TIE_AGREES = TieCheck(
    outcome="agrees",
    sentence="Independent check: the engine's note in the film agrees within 21 ms",
    clue="engine_note",
    off_s=0.012,
    sd_s=0.009,
)


def wrong(number=0, **facts):
    """A disagreement on one frame."""
    known = {
        "sort": "number",
        "instrument": "speed",
        "item": "value",
        "frames": (120 + number, 131 + number),
        "t_film_s": (120 + number) / 30,
        "t_utc_s": T0 + (120 + number) / 30,
        "read": "21.8",
        "ledger": "27.8",
        "logs": "27.8",
        "pairs": (("picture", "ledger"), ("picture", "logs")),
        "sentence": "the picture shows 21.8 mph where ledger and logs have 27.8 mph",
        "box_px": (96, 940, 220, 64),
        "rows": tuple(
            LogRow(log="gps", line=4100 + n, text=f"$GPRMC,041317.{n}00,A,6009.1,N,02457.2,E,2{n}",
                   t_utc_s=T0 + 4 + n / 10, nearest=n == 2)
            for n in range(5)
        ),
    }  # fmt: skip
    return Disagreement(**(known | facts))


def piece(**facts):
    """A clip of 20 s in which three things are to be seen."""
    known = {
        "name": "launch",
        "clip": "launch",
        "recording": "bow",
        "ledger_path": Path("clips/launch.ledger.parquet"),
        "frames": (0, 600),
        "span_s": (0.0, 20.0),
        "counts": COUNTS,
        "strips": (
            Strip(instrument="speed", item="value", stretches=((0.0, 20.0, "agrees"),)),
            Strip(instrument="engine speed", item="value",
                  stretches=((0.0, 5.0, "agrees"), (5.0, 7.5, "unread"), (7.5, 20.0, "agrees"))),
            Strip(instrument="neatline", item="", stretches=((0.0, 2.0, "unseen"),
                  (2.0, 12.0, "agrees"), (12.0, 20.0, "unheld"))),
        ),
        "disagreements": (),
        "unheld": (),
        "inputs": (
            Input(name="sheet", then="a" * 64, now="a" * 64, path=Path("trial.toml")),
            Input(name="log:gps", then="b" * 64, now="b" * 64, path=Path("logs/gps.nmea")),
        ),
        "tie_check": TIE_AGREES,
    }  # fmt: skip
    return Piece(**(known | facts))


def verdict(*pieces, **facts):
    """An audit of these pieces, or of one clip in which all agrees."""
    known = {
        "film": Path("clips/launch.mp4"),
        "sheet": Path("trial.toml"),
        "trial": "A day's trial",
        "software": "trialreel 0",
        "made_utc": "2026-06-12T08:15:30+00:00",
        "readers": ("glyphs",),
        "pieces": pieces or (piece(),),
    }
    return Verdict(**(known | facts))


def judged(number=1, said="supported", **facts):
    known = {
        "number": number,
        "claim": Claim(kind="measured", quantity="top speed", value="38 mph", at="0:41"),
        "verdict": said,
        "why": "agrees" if said == "supported" else "differs",
        "sentence": f"“top speed: 38 mph”: claim {number}.",
        "places": (Place(run="step 3", channel="speed", log="gps", start_utc_s=T0,
                         stop_utc_s=T0 + 9),),
    }  # fmt: skip
    return Judged(**(known | facts))


def everything():
    """A verdict in which every part has something."""
    one = piece(
        name="shot 1",
        disagreements=(
            wrong(),
            wrong(sort="result", instrument="neatline", item="30 mph", read=None, ledger="4.3 s",
                  logs=None, t_utc_s=math.nan, box_px=None, rows=(),
                  pairs=(("ledger", "logs"),)),
        ),
        unheld=(Unheld(what="note", why="no log has what it says"),),
        inputs=(Input(name="log:gps", then="b" * 64, now="c" * 64, path=Path("logs/gps.nmea")),
                Input(name="faceplate", then="d" * 64, now=None)),
        tie_check=TieCheck(outcome="none available", sentence="none available: no sound"),
        notes=("the distance of the clap is taken from the sheet",),
    )  # fmt: skip
    other = piece(name="shot 2", frames=(600, 900), span_s=(20.0, 30.0))
    clash = Clash(kind="two values", claims=(1, 2), sentence="Claims 1 and 2 differ.")
    return verdict(
        one,
        other,
        shots=(
            ShotLine(number=1, frames=(0, 600), span_s=(0.0, 20.0), source="bow",
                     sentence="it is the clip launch from its beginning"),
            ShotLine(number=2, frames=(600, 640), span_s=(20.0, 21.3), source="",
                     sentence="no footage of this trial looks like it"),
        ),
        claims=(judged(1, clashes=(clash,)), judged(2, "not supported"), judged(3, "cannot say")),
        warnings=("the two readers differ on 2 of 21,400 characters",),
    )  # fmt: skip


class Reader(HTMLParser):
    """What a page consists of, and whether its tags close in the order in which they open."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.odd, self.tags, self.refs, self.ids = [], [], [], [], []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        for name, value in attrs:
            if name in ("href", "src", "action", "data", "poster", "srcset"):
                self.refs.append(value)
            if name == "id":
                self.ids.append(value)
            if name.startswith("on"):
                self.odd.append(f"{tag} {name}")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.odd.append(f"</{tag}>")

    def handle_data(self, data):
        if self.open and self.open[-1] not in ("style", "title"):
            self.text += data


def read(page):
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    assert reader.odd == []
    reader.text = " ".join(reader.text.split())
    return reader


PICTURE = np.zeros((1080, 1920, 3), np.uint8)


def test_a_page_is_whole_and_needs_nothing_beside_it():
    sample = Sample(frame=30, t_film_s=1.0, data=thumb_jpeg(PICTURE))
    pictures = Pictures(crops={(0, 0): crop_png(PICTURE, (96, 940, 220, 64))}, sheet=(sample,))
    page = audit_html(everything(), pictures)
    found = read(page)
    assert len(found.ids) == len(set(found.ids))
    assert all(ref.startswith("data:image/") for ref in found.refs)
    assert len(found.refs) == 2
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", page)
    assert "script" not in found.tags
    assert "default-src 'none'" in page


def test_the_same_verdict_gives_the_same_page():
    assert audit_html(everything()) == audit_html(everything())


def test_words_from_outside_do_no_harm():
    row = LogRow(log=HOSTILE, line=1, text=HOSTILE, t_utc_s=T0)
    odd = wrong(instrument=HOSTILE, item=HOSTILE, read=HOSTILE, ledger=HOSTILE, logs=HOSTILE,
                sentence=HOSTILE, rows=(row,))  # fmt: skip
    strip = Strip(instrument=HOSTILE, item="", stretches=((0.0, 1.0, "agrees"),))
    all_odd = verdict(
        piece(name=HOSTILE, disagreements=(odd,), strips=(strip,),
              inputs=(Input(name=HOSTILE, then=HOSTILE, now=HOSTILE),),
              unheld=(Unheld(what=HOSTILE, why=HOSTILE),),
              tie_check=TieCheck(outcome="none available", sentence=HOSTILE)),
        piece(),
        film=Path('<i>"x".mp4'), trial=HOSTILE, readers=(HOSTILE,), warnings=(HOSTILE,),
        shots=(ShotLine(number=1, frames=(0, 1), span_s=(0.0, 1.0), source=HOSTILE,
                        sentence=HOSTILE),),
        claims=(judged(sentence=HOSTILE),),
    )  # fmt: skip
    page = audit_html(all_odd)
    found = read(page)
    assert "script" not in found.tags
    assert "<i>" not in page
    assert "\u202e" not in page


def test_one_line_says_what_it_comes_to():
    assert verdict_line(verdict()) == (
        "All agrees: 6,080 values on 600 frames were read, and the logs support each of them."
    )
    line = verdict_line(everything())
    assert line.startswith("It does not agree: 2 stretches of the film in which something is wrong")
    assert "1 input changed since the render and 2 claims that the results do not support" in line
    assert verdict_line(verdict(piece(disagreements=(wrong(),)))) == (
        "It does not agree: 1 stretch of the film in which something is wrong."
    )


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"counts": Counts(frames=600, frames_read=600)}, "nothing could be held"),
        ({"counts": replace(COUNTS, unread=900)}, "4.20 % of the characters could not be read"),
        ({"unheld": (Unheld(what="note", why="no log has it"),)}, "1 thing could not be held"),
    ],
)
def test_what_cannot_be_said_says_why(facts, words):
    doubtful = verdict(piece(**facts))
    assert doubtful.outcome == "cannot say"
    line = verdict_line(doubtful)
    assert line.startswith("It cannot be said: ")
    assert words in line
    assert line in read(audit_html(doubtful)).text


def test_a_sheet_that_was_edited_since_is_told_and_is_no_fault_by_itself():
    edited = verdict(piece(inputs=(Input(name="sheet", then="1" * 64, now="2" * 64),)))
    assert edited.outcome == "agrees"
    text = read(audit_html(edited)).text
    assert text.index("All agrees") < text.index("changed") < text.index("2" * 64)


def test_a_signature_is_for_one_file():
    assert (
        "The hash of that film is " + "f" * 64
        in read(audit_html(verdict(), film_sha256="f" * 64)).text
    )
    assert "hash of that film" not in audit_html(verdict())


def test_each_outcome_has_a_line_of_reasons():
    """No outcome that the verdict can have leaves its line without a reason."""
    for made in (
        verdict(piece(tie_check=replace(TIE_AGREES, outcome="disagrees"))),
        verdict(piece(), piece(tie_check=replace(TIE_AGREES, outcome="disagrees"))),
        verdict(piece(inputs=(Input(name="tie", then="1", now="2"),))),
        verdict(claims=(judged(1, "not supported"),)),
        verdict(claims=(judged(1, "cannot say"),)),
        verdict(piece(counts=Counts())),
    ):
        assert made.outcome != "agrees"
        assert re.fullmatch(r"It (does not agree|cannot be said): .{12,}\.", verdict_line(made))


def test_a_disagreement_is_told_whole():
    text = read(audit_html(everything())).text
    for words in (
        "1 speed: value",
        "frame 120 to 131, 0:04.00 of the film, 04:13:17.40 UTC",
        "On the picture 21.8 In the ledger 27.8 By the logs 27.8",
        "Between picture and ledger; picture and logs",
        "The picture shows 21.8 mph where ledger and logs have 27.8 mph.",
        "gps 4102 04:13:17.60 $GPRMC,041317.200,A",
    ):
        assert words in text.replace("$ GPRMC", "$GPRMC") or words.replace(" ", "") in text.replace(
            " ", ""
        ), words


def test_who_cannot_say_is_not_given_words():
    text = read(audit_html(everything())).text
    assert re.search(
        r"On the picture ?cannot say ?In the ledger ?4.3 s ?By the logs ?cannot say", text
    )
    blank = verdict(piece(disagreements=(wrong(read=""),)))
    assert re.search(r"On the picture ?nothing", read(audit_html(blank)).text)


def test_every_part_has_its_place():
    found = read(audit_html(everything()))
    assert found.ids[:2] == ["verdict", "tie"]
    wanted = {"verdict", "tie", "time", "wrong", "shots", "claims", "unheld", "inputs", "sign"}
    assert wanted <= set(found.ids)
    for words in ("None available: no sound.", "no log has what it says", "not found", "changed",
                  "c" * 64, "elsewhere", "The distance of the clap is taken from the sheet.",
                  "supported, but at odds",
                  "Name", "Date", "Place", "Signature",
                  "The two readers differ on 2 of 21,400 characters."):  # fmt: skip
        assert words in found.text, words
    assert found.text.index("log:gps") < found.text.index("faceplate")


def test_two_hundred_disagreements_show_the_first_whole_and_the_rest_as_rows():
    many = verdict(piece(disagreements=tuple(wrong(n) for n in range(200))))
    page = audit_html(many)
    assert page.count('<article class="wrong">') == MOST_WHOLE
    rows = page.count('<tr><td class="number">')
    assert rows == 200 - MOST_WHOLE
    assert "in the document that lies beside this page" not in page


def test_what_is_beyond_all_rows_is_counted():
    count = MOST_WHOLE + MOST_ROWS + 3
    many = verdict(piece(disagreements=tuple(wrong(n) for n in range(count))))
    page = audit_html(many)
    assert "3 more stand in the document" in page
    assert len(audit_document(many)["pieces"][0]["disagreements"]) == count


def test_a_hundred_wrong_speeds_do_not_hide_one_wrong_label():
    label = wrong(sort="label", instrument="neatline", item="30 mph")
    many = verdict(piece(disagreements=(*(wrong(n) for n in range(150)), label)))
    whole = shown_whole(many)
    assert len(whole) == MOST_WHOLE
    assert (0, 150) in whole
    assert whole == tuple(sorted(whole))


def test_a_crop_stands_beside_its_own_disagreement():
    many = verdict(piece(disagreements=(wrong(0), wrong(20))))
    page = audit_html(many, Pictures(crops={(0, 1): crop_png(PICTURE, (96, 940, 220, 64))}))
    first, second = page.split('<article class="wrong">')[1:]
    assert "<img" not in first
    assert '<img src="data:image/png;base64,' in second


# The time line.


def states(made):
    return {lane.name: [(run[0], run[1], run[2]) for run in lane.runs] for lane in made}


def test_strips_keep_to_their_stretches():
    found = states(lanes_of([piece()]))
    assert found["engine speed"] == [
        (0, COLUMNS // 4, "agrees"),
        (COLUMNS // 4, COLUMNS * 3 // 8, "unread"),
        (COLUMNS * 3 // 8, COLUMNS, "agrees"),
    ]
    assert [run[2] for run in found["neatline"]] == ["unseen", "agrees", "unheld"]


def test_a_fault_of_one_frame_in_an_hour_is_still_seen():
    stretches = (
        (0.0, 1800.0, "agrees"),
        (1800.0, 1800.03, "disagrees"),
        (1800.03, 3600.0, "agrees"),
    )
    hour = piece(
        span_s=(0.0, 3600.0), strips=(Strip(instrument="s", item="", stretches=stretches),)
    )
    (lane,) = lanes_of([hour])
    assert [run[2] for run in lane.runs] == ["agrees", "disagrees", "agrees"]
    (rect,) = re.findall(r'<rect [^>]*class="state-disagrees"/>', timeline_svg([hour]))
    assert float(re.search(r'width="([\d.]+)"', rect)[1]) >= 3


def test_what_cannot_be_read_is_never_drawn_as_agreement():
    """Where one column holds many short stretches, the one that matters most is drawn."""
    short = tuple((n / 100, (n + 1) / 100, "unread" if n == 50 else "agrees") for n in range(100))
    one = piece(span_s=(0.0, 1000.0), strips=(Strip(instrument="s", item="", stretches=short),))
    (lane,) = lanes_of([one])
    assert lane.runs[0] == (0, 1, "unread")


def test_no_state_takes_a_style_that_hides_it():
    """The page has a class of its own for what only a screen reader should find."""
    page = audit_html(verdict())
    for state in NAMED:
        assert page.count(f'class="state-{state}"') >= 1 or state == "disagrees"
        assert f".state-{state} {{" in page
        assert not re.search(rf'<(rect|i) [^>]*class="{state}"', page)


def test_pieces_of_a_film_share_one_time_line():
    one, other = piece(), piece(span_s=(30.0, 40.0), strips=(
        Strip(instrument="speed", item="value", stretches=((30.0, 40.0, "disagrees"),)),
    ))  # fmt: skip
    found = states(lanes_of([one, other]))
    assert list(found) == ["speed", "engine speed", "neatline"]
    assert found["speed"] == [
        (0, COLUMNS // 2, "agrees"),
        (COLUMNS // 2, COLUMNS * 3 // 4, "unseen"),
        (COLUMNS * 3 // 4, COLUMNS, "disagrees"),
    ]


def test_parts_of_one_instrument_are_told_apart_and_others_keep_its_name():
    strips = tuple(
        Strip(instrument=name, item=item, stretches=((0.0, 20.0, "agrees"),))
        for name, item in (("twin", "port"), ("twin", "starboard"), ("speed", "value"))
    )
    assert list(states(lanes_of([piece(strips=strips)]))) == [
        "twin: port", "twin: starboard", "speed",
    ]  # fmt: skip


def test_the_labels_of_an_instrument_share_a_lane_and_the_worst_of_them_shows():
    whole, part = ((0.0, 20.0, "agrees"),), ((0.0, 10.0, "agrees"), (10.0, 20.0, "unread"))
    strips = tuple(
        Strip(instrument="speed", item=item, stretches=stretches)
        for item, stretches in (("value", whole), ("“SPEED”", part), ("“mph”", whole))
    )
    found = states(lanes_of([piece(strips=strips)]))
    assert list(found) == ["speed: value", "speed: labels"]
    assert found["speed: labels"] == [
        (0, COLUMNS // 2, "agrees"),
        (COLUMNS // 2, COLUMNS, "unread"),
    ]


@pytest.mark.parametrize(
    "span_s", [(0.0, 0.0), (0.0, 0.04), (3.2, 9.0), (0.0, 59.9), (0.0, 5400.0)]
)
def test_the_axis_has_times_whatever_the_length(span_s):
    svg = timeline_svg([piece(span_s=span_s)])
    ticks = re.findall(r'class="tick mid[^"]*">([\d:.]+)<', svg)
    assert 1 <= len(ticks) <= 12
    assert len(set(ticks)) == len(ticks)


def test_nothing_read_has_no_time_line():
    assert timeline_svg([]) == ""
    page = audit_html(verdict(piece(strips=())))
    assert 'id="time"' not in page


# The document.


def rebuilt(kind, value):  # noqa: PLR0911 - one for each sort of type
    """A value of a type from what JSON has of it: the proof that nothing was lost."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, UnionType):
        if value is None and type(None) in inner:
            return None
        return rebuilt(next(one for one in inner if one is not type(None)), value)
    if origin is tuple:
        if inner[1:] == (...,):
            return tuple(rebuilt(inner[0], item) for item in value)
        return tuple(rebuilt(one, item) for one, item in zip(inner, value, strict=True))
    if origin is typing.Literal:
        assert value in inner
        return value
    if kind is Claim:
        return Claim.model_validate(value)
    if is_dataclass(kind):
        hints = typing.get_type_hints(kind)
        return kind(**{one.name: rebuilt(hints[one.name], value[one.name]) for one in fields(kind)})
    if kind is float:
        return math.nan if value is None else float(value)
    return kind(value)


@pytest.mark.parametrize("made", [verdict(), everything()], ids=["all agrees", "everything"])
def test_the_document_loses_nothing(made):
    document = json.loads(json.dumps(audit_document(made), allow_nan=False))
    assert document["schema"] == "audit/1"
    assert document["outcome"] == made.outcome
    assert document["line"] == verdict_line(made)
    assert document["counts"]["held"] == made.counts.held
    # NaN differs from itself: both are held against each other in words.
    assert repr(rebuilt(Verdict, document)) == repr(made)


def test_the_document_says_what_became_of_the_inputs():
    states = [one["state"] for one in audit_document(everything())["pieces"][0]["inputs"]]
    assert states == ["changed", "missing"]


# Pictures, and words.


@pytest.mark.parametrize(
    "box_px", [(96, 940, 220, 64), (0, 0, 10, 8), (1900, 1070, 60, 60), (0, 0, 1920, 1080)]
)
def test_a_crop_holds_its_box_and_no_more_than_is_there(box_px):
    picture = PICTURE.copy()
    x, y, width, height = box_px
    picture[y : y + height, x : x + width] = (0, 255, 0)
    image = Image.open(io.BytesIO(crop_png(picture, box_px)))
    assert image.format == "PNG"
    assert image.width <= MOST_PX
    green = np.argwhere(np.asarray(image.convert("RGB"))[:, :, 1] > 200)
    seen = np.array([min(y + height, 1080) - y, min(x + width, 1920) - x])
    found = np.ptp(green, axis=0) + 1
    scale = MOST_PX / 1920 if width == 1920 else round(found[1] / seen[1])
    assert found == pytest.approx(seen * scale, abs=2)
    assert len(green) == pytest.approx(found.prod(), rel=0.06)


def test_the_frame_stands_about_the_box_and_not_on_it():
    image = Image.open(io.BytesIO(crop_png(PICTURE, (900, 500, 220, 64)))).convert("RGB")
    marked = np.argwhere((np.asarray(image) == MARK).all(axis=2))
    top, left = marked.min(axis=0)
    bottom, right = marked.max(axis=0)
    assert right - left + 1 >= 220 + 4
    assert bottom - top + 1 >= 64 + 4
    assert len(marked) < 4 * (220 + 64) * 2


def test_a_thumb_keeps_the_shape_of_its_picture():
    image = Image.open(io.BytesIO(thumb_jpeg(PICTURE)))
    assert (image.format, image.size) == ("JPEG", (THUMB_PX, THUMB_PX * 9 // 16))


@pytest.mark.parametrize(
    ("t_s", "text"),
    [(0.0, "0:00.00"), (67.4, "1:07.40"), (59.999, "1:00.00"), (3600, "60:00.00"),
     (-0.5, "−0:00.50"), (math.nan, "––")],
)  # fmt: skip
def test_times_of_the_film(t_s, text):
    assert film_time(t_s) == text


def test_other_words():
    assert frames_text((7, 7)) == "7"
    assert share_text(1, 0) == "––"
    assert share_text(1, 1_000_000) == "under 0.01 %"
    assert share_text(999_999, 1_000_000) == "99.99 %"
    assert share_text(5, 5) == "100.00 %"
