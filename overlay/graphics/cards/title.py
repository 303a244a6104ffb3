"""What was tested, and when."""

from __future__ import annotations

from overlay.graphics import shapes
from overlay.graphics.cards.base import CardBench, CardKind, Drawn
from overlay.graphics.cards.facts import CardFacts
from overlay.graphics.cards.head import Head, head

MARK = 0.012, 0.16
"""Height and length of the magenta mark under the headline, as shares of the short side."""

LINE_PITCH = 1.75
"""From one line of what was tested to the next, in heights of its capitals."""

MOST_LINES, MOST_LOWER_LINES = 3, 2


def draw(facts: CardFacts, bench: CardBench) -> Drawn:
    """The trial's name, its day and place above, and what was tested below."""
    width, height = bench.room
    lower = bench.lower_third
    top = head(
        bench, facts.title, (facts.subtitle,), width, MOST_LOWER_LINES if lower else MOST_LINES
    )
    if not lower:
        top = Head(bench=bench, lines=top.lines, over=top.over, beside=False)
    role = "text" if lower else "second"
    tested = (" · ".join(facts.tested),) if lower and facts.tested else facts.tested
    script = bench.script(role)
    lines = [line for text in tested for line in script.wrapped(text, width, 3)]
    pitch = round(LINE_PITCH * script.face.cap_px)
    mark, long = (bench.px(share) for share in MARK)
    mark_px = 0 if lower else 3 * mark
    needs_px = top.height_px + mark_px + pitch * len(lines)
    kept = max(0, len(lines) - max(0, -(-(needs_px - height) // pitch)))
    needs_px -= pitch * (len(lines) - kept)
    widest = max([top.width_px, *(script.width(line) for line in lines[:kept])])
    paper = bench.paper(dark=True, size=(widest, needs_px))
    left, upper, right, bottom = paper.room
    if not lower:
        # A little above the middle, where an eye takes the middle to be.
        upper += round(0.42 * (bottom - upper - needs_px))
    paper.room = left, upper, right, bottom
    y = top.draw(paper)
    if mark_px:
        paper.fill(shapes.rectangle(left, y, long, mark), "magenta")
        y += mark_px
    for line in lines[:kept]:
        paper.text(line, left, y + script.face.cap_px, role)
        y += pitch
    lost = len(lines) - kept
    said = (f"{lost} lines of what was tested have no room",) if lost else ()
    return Drawn(cards=(paper.card(),), remarks=said)


KIND = CardKind(name="title", text="what was tested, and when", lower_third=True, draw=draw)
