"""The commands that make films and stills: `render`, `transparent`, `lineup`, `card`, `reel`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Annotated, Literal

import typer

from overlay.cli.options import DEFAULT_SHEET, AsJson, Faceplate, ForReaders, InUnits, Sheet, exact


def render(  # noqa: PLR0917 - typer reads a command's options off its arguments
    clip: Annotated[
        str | None,
        typer.Argument(help="A clip of the sheet, or a recording to render whole; else all clips."),
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    encoder: Annotated[
        str | None,
        typer.Option(
            "--encoder",
            help="x264, x265, svt-av1, prores or hardware; else x264, or x265 for 10 bits.",
        ),
    ] = None,
    quality: Annotated[
        Literal["draft", "upload", "master"],
        typer.Option("--quality", help="How good, and how slow; a master keeps all colour."),
    ] = "upload",
    handles: Annotated[
        str | None,
        typer.Option("--handles", help="Film before and after each run, such as '2 s'."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            "--from", help="Where to begin: '12.5 s', timecode 10:20:30:12, or time 10:20:30.5."
        ),
    ] = None,
    stop: Annotated[str | None, typer.Option("--to", help="Where to end, likewise.")] = None,
    strip_location: Annotated[
        bool, typer.Option("--strip-location", help="Leave out where the film was shot.")
    ] = False,
    proxy: Annotated[
        bool, typer.Option("--proxy", help="Use the low-resolution twins, for a quick look.")
    ] = False,
    units: ForReaders = None,
    shape: Annotated[
        Literal["wide", "upright", "square"] | None,
        typer.Option("--shape", help="Cut the picture to 16:9, 9:16 or 1:1; nothing is scaled."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Burn instruments onto the clips of the sheet.

    Pictures, time stamps, sound, timecode and the camera's tags come out as they were filmed,
    and what cannot be kept is said.
    """
    from overlay.cli import console, show
    from overlay.workflow.render import render as burn
    from overlay.workflow.wishes import Wish, handles_s

    wish = Wish(
        encoder=encoder,
        quality=quality,
        handles_s=None if handles is None else handles_s(handles),
        start=start,
        stop=stop,
        strip_location=strip_location,
        proxy=proxy,
        units=units,
        shape=shape,
    )
    with console.progress(quiet=as_json) as bar:
        outcome = burn(sheet, clip, wish=wish, progress=bar)
    show.render(outcome, as_json=as_json)


def transparent(  # noqa: PLR0917 - typer reads a command's options off its arguments
    run: Annotated[
        str | None, typer.Argument(help="A run, as `results` names it; each of them without it.")
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    form: Annotated[
        Literal["prores", "vp9", "png"],
        typer.Option(
            "--as", help="ProRes 4444 in .mov, VP9 in .webm, or a folder of numbered pictures."
        ),
    ] = "prores",
    alpha: Annotated[
        Literal["straight", "premultiplied"],
        typer.Option("--alpha", help="How colours go with their coverage; pictures are straight."),
    ] = "straight",
    size: Annotated[str, typer.Option("--size", help="Width and height in pixels.")] = "1920x1080",
    rate: Annotated[
        Fraction | None,
        typer.Option("--rate", parser=exact, help="The edit's frames a second, such as 29.97."),
    ] = None,
    handles: Annotated[
        str, typer.Option("--handles", help="How much there is before and after each run.")
    ] = "2 s",
    faceplate: Faceplate = None,
    units: ForReaders = None,
    as_json: AsJson = False,
) -> None:
    """Draw instruments alone, to lay over a film once it is cut.

    They run on log time, at the rate of the edit, with the time of day as timecode, and go into
    the folder `clips` beside the sheet, each with its ledger.
    """
    from overlay.cli import console, show_transparent
    from overlay.workflow.sizes import size_of
    from overlay.workflow.transparent import TransparentWish
    from overlay.workflow.transparent import transparent as draw
    from overlay.workflow.wishes import handles_s

    wish = TransparentWish(
        form=form,
        alpha=alpha,
        size_px=size_of(size),
        rate_hz=rate,
        handles_s=handles_s(handles),
        faceplate=faceplate,
        units=units,
    )
    with console.progress(quiet=as_json) as bar:
        outcome = draw(sheet, run, wish=wish, progress=bar)
    show_transparent.transparent(outcome, as_json=as_json)


def lineup(
    rate: Annotated[
        Fraction | None,
        typer.Option(
            "--rate",
            metavar="HZ",
            parser=exact,
            help="Frames a second, such as 25 or 29.97; without it those of most recordings.",
        ),
    ] = None,
    handles: Annotated[
        str,
        typer.Option(
            "--handles", metavar="TIME", help="Film before and after each run in its cut."
        ),
    ] = "2 s",
    sheet: Sheet = DEFAULT_SHEET,
    as_json: AsJson = False,
) -> None:
    """Lay the whole day on one sequence, for an editing program.

    The folder `lineup` beside the sheet has an OpenTimelineIO sequence with every recording where
    its tie has it, transparent renders over them, and a marker for every run, mark and result;
    the same as cut lists (CMX 3600), one a recording and one of all runs; and the figures of every
    render as captions (SubRip, WebVTT). The exit code is 3 where a recording has no tie.
    """
    from overlay.cli import show_lineup
    from overlay.workflow.lineup import lineup as lay

    code = show_lineup.lineup(lay(sheet, rate, handles), as_json=as_json)
    if code:
        raise typer.Exit(code)


def card(  # noqa: PLR0917 - typer reads a command's options off its arguments
    kind: Annotated[
        str | None, typer.Argument(help="A kind of card; without it the kinds are listed.")
    ] = None,
    sheets: Annotated[
        list[Path] | None,
        typer.Option(
            "--trial",
            "-t",
            metavar="SHEET",
            help="The trial sheet, or its folder; for a comparison two to six of them.",
        ),
    ] = None,
    size: Annotated[str, typer.Option("--size", help="Width and height in pixels.")] = "1920x1080",
    form: Annotated[Literal["png", "clip"], typer.Option("--as", help="What to write.")] = "png",
    lower_third: Annotated[
        bool, typer.Option("--lower-third", help="A plate over the picture, else transparent.")
    ] = False,
    seconds: Annotated[
        Fraction, typer.Option("--seconds", parser=exact, help="How long a clip is.")
    ] = Fraction(5),
    fade: Annotated[
        Fraction, typer.Option("--fade", parser=exact, help="In and out, in seconds.")
    ] = Fraction(1, 2),
    rate: Annotated[
        Fraction, typer.Option("--rate", parser=exact, help="A clip's frames a second.")
    ] = Fraction(30),
    units: InUnits = None,
    as_json: AsJson = False,
) -> None:
    """Draw results as stills: full frames, or lower thirds.

    The files go into the folder `clips` beside the sheet. A table that does not fit is not made
    smaller: it is parted over several cards, or loses columns, and the answer says so.
    """
    from overlay.cli import show_card

    if kind is None:
        show_card.kinds()
        return
    from overlay.render.still import StillClip
    from overlay.workflow.card import card as draw

    outcome = draw(
        kind,
        sheets or [DEFAULT_SHEET],
        size=size,
        form=form,
        lower_third=lower_third,
        units=units,
        clip=StillClip(seconds=seconds, fade_s=fade, rate_hz=rate),
    )
    show_card.card(outcome, as_json=as_json)


def reel(
    name: Annotated[
        str | None, typer.Argument(help="A reel of the sheet; all of them without it.")
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    as_json: AsJson = False,
) -> None:
    """Put cards and clips together into one film, with sound.

    The sheet says under [[reels]] what stands in it. Clips that are missing, or older than what
    they were made from, are rendered first. The film goes into the folder `clips` beside the
    sheet, and next to it a file that says what lies where in it.
    """
    from overlay.cli import console, show_reel
    from overlay.workflow.reel import reel as put_together

    with console.progress(quiet=as_json) as bar:
        outcome = put_together(sheet, name, progress=bar)
    show_reel.reel(outcome, as_json=as_json)
