"""The commands, and how the program ends."""

from __future__ import annotations

import logging
import sys
from typing import Annotated, Any

import typer

from overlay.cli import auditing, filming, preparing, reckoning, series
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


for command in (
    preparing.demo,
    preparing.new,
    preparing.check,
    preparing.align,
    preparing.clues,
    reckoning.results,
    reckoning.report,
    reckoning.specimen,
    reckoning.compare,
    filming.render,
    filming.transparent,
    filming.lineup,
    filming.card,
    filming.reel,
    auditing.audit,
):
    app.command()(command)
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
