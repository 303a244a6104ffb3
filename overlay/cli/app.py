"""The commands, and how the program ends."""

from __future__ import annotations

import logging
import re
import sys
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from overlay.cli import series
from overlay.cli.auditing import audit
from overlay.cli.exit_codes import DONE, FAILED, INTERRUPTED, exit_code
from sync.errors import TrialReelError

app = typer.Typer(
    name="trialreel",
    help=(
        "Puts the logs and the footage of a boat trial on one clock, computes the results, "
        "and burns them onto the film, with a ledger of every digit shown."
    ),
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Sheet = Annotated[
    Path,
    typer.Option(
        "--trial", "-t", metavar="SHEET", help="The trial sheet, or the folder that it lies in."
    ),
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print the answer as JSON, for a program to read.")
]
DEFAULT_SHEET = Path("trial.toml")
Units = Literal["us", "nautical", "metric"]
InUnits = Annotated[
    Units | None,
    typer.Option(
        "--units", help="Work everything out for a reader of these units, with their own ladder."
    ),
]


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"trialreel {version('trialreel')}")
        raise typer.Exit


def _results_schema(wanted: bool) -> None:
    if wanted:
        from overlay.analysis.document import results_schema
        from overlay.cli.console import as_document

        as_document(results_schema())
        raise typer.Exit


def _schema(wanted: bool) -> None:
    if wanted:
        from overlay.cli.console import as_document
        from overlay.sheet import sheet_schema

        as_document(sheet_schema())
        raise typer.Exit


@app.callback()
def _common(
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Say what is being done, on standard error.")
    ] = False,
    schema: Annotated[  # noqa: ARG001 - its callback does the work
        bool,
        typer.Option(
            "--sheet-schema",
            callback=_schema,
            is_eager=True,
            help="Print the JSON Schema of the trial sheet.",
        ),
    ] = False,
    results_schema: Annotated[  # noqa: ARG001 - its callback does the work
        bool,
        typer.Option(
            "--results-schema",
            callback=_results_schema,
            is_eager=True,
            help="Print the JSON Schema of results.",
        ),
    ] = False,
    version: Annotated[  # noqa: ARG001 - its callback does the work
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    if verbose:
        logging.basicConfig(level=logging.INFO, format="%(name)s: %(message)s")


def _exact(given: str | Fraction) -> Fraction:
    """A number such as `5`, `0.5`, `30000/1001`, or `29.97`, which is short for that."""
    short = {"23.976": 24, "23.98": 24, "29.97": 30, "59.94": 60, "119.88": 120}
    if given in short:
        return Fraction(short[str(given)] * 1000, 1001)
    if isinstance(given, str) and not re.fullmatch(r"\s*\d{1,9}([./]\d{1,9})?\s*", given):
        raise typer.BadParameter(f"{given!r} is not a number such as 25, 29.97 or 30000/1001")
    try:
        number = Fraction(given)
    except (ValueError, ZeroDivisionError) as error:
        raise typer.BadParameter(f"{given!r} is not a number") from error
    thousandth = Fraction(round(number * 1001 / 1000) * 1000, 1001)
    if thousandth.denominator == 1001 and abs(number - thousandth) < Fraction(1, 10_000):
        return thousandth  # 29.97002997, as others print it
    return number.limit_denominator(100_000)


@app.command()
def demo(
    folder: Annotated[
        Path, typer.Argument(help="Where the demo trial goes; it is made if it is not there.")
    ] = Path("trialreel-demo"),
) -> None:
    """Make a simulated trial and render its clip."""
    from overlay.cli import console, show
    from overlay.workflow.demo import demo as make

    with console.progress() as bar:
        outcome = make(folder, progress=bar)
    show.demo(outcome)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="A folder with logs and footage.")],
) -> None:
    """Write a trial sheet for a folder of logs and footage."""
    from overlay.cli import show
    from overlay.workflow.new import new as draft

    ask = show.ask if sys.stdin.isatty() and sys.stdout.isatty() else None
    show.new(draft(folder, ask=ask))


@app.command()
def check(sheet: Sheet = DEFAULT_SHEET, as_json: AsJson = False) -> None:
    """Say what is there, what is odd, and what is missing."""
    from overlay.cli import show
    from overlay.workflow.check import check as look

    code = show.check(look(sheet), as_json=as_json)
    if code:
        raise typer.Exit(code)


@app.command()
def align(
    recording: Annotated[
        str | None, typer.Argument(help="A recording or clip of the sheet; all without it.")
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    frame: Annotated[
        int | None,
        typer.Option("--frame", min=0, help="A frame whose time you know, counted from 0."),
    ] = None,
    utc: Annotated[
        str | None,
        typer.Option("--utc", help="Its time, such as 2026-06-11T09:14:03.250Z."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tie the clocks, or write down a tie.

    Without --frame and --utc it looks for clues and says what follows from them; with both it
    writes a tie that you read yourself into the sheet, and saves the frames around it.
    """
    from overlay.cli import show
    from overlay.workflow.align import align as tie
    from overlay.workflow.typed_tie import type_tie

    if (frame is None) != (utc is None):
        raise typer.BadParameter("--frame and --utc belong together: give both or neither")
    if frame is not None and utc is not None:
        if recording is None:
            raise typer.BadParameter("--frame and --utc need the name of a recording or clip")
        typed = type_tie(sheet, recording, frame=frame, utc=utc)
        if not as_json:
            show.typed_tie(typed)
    outcome = tie(sheet, recording)
    code = show.align(outcome, as_json=as_json)
    if code:
        raise typer.Exit(code)


@app.command()
def clues(
    kind: Annotated[
        str | None, typer.Argument(help="A kind of clue, as `align` calls it; all without it.")
    ] = None,
) -> None:
    """Say what can tie clocks to each other, and what each kind of clue needs."""
    from overlay.cli import show_clues

    if kind is None:
        show_clues.kinds()
    elif not show_clues.page(kind):
        raise typer.BadParameter(f"there is no clue called {kind!r}; `trialreel clues` lists them")


@app.command()
def results(sheet: Sheet = DEFAULT_SHEET, units: InUnits = None, as_json: AsJson = False) -> None:
    """Compute what the logs support.

    What the sheet's own units come to is written beside it, for programs to read; for a reader of
    other units it is printed only.
    """
    from overlay.cli import show
    from overlay.workflow.results import results as compute

    show.results(compute(sheet, units), as_json=as_json)


@app.command()
def report(sheet: Sheet = DEFAULT_SHEET, units: InUnits = None, as_json: AsJson = False) -> None:
    """Write the results as a page, with plots and tables.

    The folder `report` beside the sheet has one HTML page, the same in Markdown, each plot, and
    each table in numbers; other units than the sheet's go into a folder of their own, such as
    `report-metric`. A folder that it did not make itself is left alone.
    """
    from overlay.cli import show_report
    from overlay.workflow.report import report as write

    show_report.report(write(sheet, units), as_json=as_json)


@app.command()
def specimen(
    picture: Annotated[Path, typer.Argument(metavar="PNG", help="Where the picture goes.")] = Path(
        "specimen.png"
    ),
    as_json: AsJson = False,
) -> None:
    """Draw every instrument and faceplate, with made-up data, in one picture."""
    from overlay.cli import show
    from overlay.workflow.specimen import write_specimen

    show.specimen(write_specimen(picture), as_json=as_json)


@app.command()
def compare(
    sheets: Annotated[
        list[Path],
        typer.Argument(
            metavar="SHEET SHEET ...", help="Two to six trial sheets, or their folders."
        ),
    ],
    units: Annotated[
        Units | None,
        typer.Option(
            "--units", help="Of whoever reads it, with their own ladder; else the first sheet's."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Set trials side by side, and mark what differs.

    Each is held against the first. None is called better where mass, fuel, wind, air or bottom
    differ beyond the limits that are printed, or are not known; the exit code is 3 then.
    """
    from overlay.cli import show_compare
    from overlay.workflow.compare import compare_sheets

    code = show_compare.compare(compare_sheets(sheets, units), as_json=as_json)
    if code:
        raise typer.Exit(code)


Faceplate = Annotated[
    str | None, typer.Option("--faceplate", help="By name, or a file; else the one that suits.")
]


@app.command()
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
    units: Annotated[
        Units | None,
        typer.Option(
            "--units", help="For readers of these units, with their own ladder; else the sheet's."
        ),
    ] = None,
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


@app.command()
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
        typer.Option("--rate", parser=_exact, help="The edit's frames a second, such as 29.97."),
    ] = None,
    handles: Annotated[
        str, typer.Option("--handles", help="How much there is before and after each run.")
    ] = "2 s",
    faceplate: Faceplate = None,
    as_json: AsJson = False,
) -> None:
    """Draw the instruments of each run alone, to lay over the film once it is cut.

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
    )
    with console.progress(quiet=as_json) as bar:
        outcome = draw(sheet, run, wish=wish, progress=bar)
    show_transparent.transparent(outcome, as_json=as_json)


@app.command()
def lineup(
    rate: Annotated[
        Fraction | None,
        typer.Option(
            "--rate",
            metavar="HZ",
            parser=_exact,
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


@app.command()
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
        Fraction, typer.Option("--seconds", parser=_exact, help="How long a clip is.")
    ] = Fraction(5),
    fade: Annotated[
        Fraction, typer.Option("--fade", parser=_exact, help="In and out, in seconds.")
    ] = Fraction(1, 2),
    rate: Annotated[
        Fraction, typer.Option("--rate", parser=_exact, help="A clip's frames a second.")
    ] = Fraction(30),
    units: InUnits = None,
    as_json: AsJson = False,
) -> None:
    """Draw results as a still: a full frame, or a lower third over the picture.

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


@app.command()
def reel(
    name: Annotated[
        str | None, typer.Argument(help="A reel of the sheet; all of them without it.")
    ] = None,
    sheet: Sheet = DEFAULT_SHEET,
    as_json: AsJson = False,
) -> None:
    """Put cards and clips together into one film, with fades and with sound.

    The sheet says under [[reels]] what stands in it. Clips that are missing, or older than what
    they were made from, are rendered first. The film goes into the folder `clips` beside the
    sheet, and next to it a file that says what lies where in it.
    """
    from overlay.cli import console, show_reel
    from overlay.workflow.reel import reel as put_together

    with console.progress(quiet=as_json) as bar:
        outcome = put_together(sheet, name, progress=bar)
    show_reel.reel(outcome, as_json=as_json)


app.command()(audit)
app.add_typer(series.app, name="series")


def run(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code: never a traceback for what is explained."""
    given = sys.argv[1:] if arguments is None else arguments
    command = typer.main.get_command(app)
    try:
        answer: Any = command.main(
            args=given or ["--help"], prog_name="trialreel", standalone_mode=False
        )
    except TrialReelError as error:
        print(f"trialreel: {error}", file=sys.stderr)
        return exit_code(error)
    except typer.TyperException as error:
        print(f"trialreel: {error.format_message()}", file=sys.stderr)
        return error.exit_code
    except (KeyboardInterrupt, typer.Abort):
        answer = INTERRUPTED
    except BrokenPipeError:
        return FAILED
    except ImportError as error:
        print(f"trialreel: {missing_library(error)}", file=sys.stderr)
        return FAILED
    except Exception as error:
        # The last place that can spare a person a traceback; --verbose prints it.
        logging.getLogger(__name__).info("the defect's place in the code", exc_info=True)
        print(f"trialreel: {defect(error)}", file=sys.stderr)
        return FAILED
    if answer == INTERRUPTED:
        print("trialreel: interrupted; nothing half-written was kept.", file=sys.stderr)
    return answer if isinstance(answer, int) else DONE


def missing_library(error: ImportError) -> str:
    """What to install, where a library of the system or of Python is not there."""
    text = str(error)
    if "libGL" in text or "libgthread" in text or "libglib" in text:
        return (
            "OpenCV does not find the system's libGL; on Debian and Ubuntu install it with "
            "`apt install libgl1 libglib2.0-0`."
        )
    return f"a library is missing ({text}); install trialreel again with pip."


def defect(error: Exception) -> str:
    """What is said of an error that nobody foresaw."""
    first = str(error).partition("\n")[0]
    return (
        f"this is a defect in trialreel ({type(error).__name__}: {first}); "
        "run it again with --verbose before the command, and report what that prints."
    )
