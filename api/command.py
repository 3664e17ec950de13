"""The command line: arguments, exit codes, and one clear sentence when something is wrong.

::

    drypark triage CASE.json [--json] [--full]  what to check before replacing the part
    drypark decode TEXT|HEX...              what codes and response bytes say
    drypark knowledge check|show ID|export  look after the knowledge
    drypark knowledge query|stats|release-notes
    drypark network export                  the compiled network
    drypark schema case|answer|network      JSON Schema of a document
    drypark replay CASES...|--simulate N    where the truth stands; how long until it is proven
    drypark backup|restore                  the records of a shop: kept, and got back
    drypark records copy|verify|export      moved, proved, written out
    drypark db upgrade                      brought to the shape this program needs
    drypark serve [--demo]                  the pages for the bay
    drypark doctor                          whether everything is right that they need
    drypark people add|list|password|leave  who works in the shop

Exit 0: done. 1: a check failed. 2: bad input. Results go to standard output, everything else
to standard error. There is no traceback without ``--debug``.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from api.keeping import add_keeping
from api.serving import add_serving
from api.terminal.progress import StoppedError
from api.terminal.stopping import INTERRUPTED
from api.trusting import add_trusting
from api.upkeep import add_upkeep
from triage.errors import KnowledgeError, TriageError

# The modules of `api.commands` are imported inside the commands on purpose: they bring in the
# reader of the knowledge and the compiled arithmetic, and `--help` must not wait for those.

__all__ = ["app", "main"]

BAD_INPUT, CHECK_FAILED, DONE = 2, 1, 0
#: Of a command that has no better word for it; one that changes anything has.
_NOTHING_DONE = "nothing was changed"

#: Base of everything that is wrong with arguments; typer exports only this subclass of it.
_UsageError: type[Exception] = typer.BadParameter.__mro__[1]

app = typer.Typer(
    help="What to check before replacing the sensor that a trouble code names.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
knowledge_app = typer.Typer(help="Look after the knowledge.", rich_markup_mode=None)
network_app = typer.Typer(help="The compiled network.", rich_markup_mode=None)
app.add_typer(knowledge_app, name="knowledge")
app.add_typer(network_app, name="network")

CaseFile = Annotated[
    str,
    typer.Argument(metavar="CASE.json", help="A case document; - reads it from standard input."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Write JSON instead of text.")]


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"drypark {version('drypark')}")
        except PackageNotFoundError:
            typer.echo("drypark, not installed: run from its folder")
        raise typer.Exit


@app.callback()
def everything(
    show_version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version."),
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")] = False,
) -> None:
    """Hold the options that stand before every command."""


@app.command()
def triage(
    case: CaseFile,
    as_json: AsJson = False,
    full: Annotated[
        bool, typer.Option("--full", help="All of the account, also where it takes minutes.")
    ] = False,
) -> None:
    """Answer a case: gates, checks in order, causes, the sensor, why."""
    from api.commands import triage as command

    command.run(case, as_json=as_json, full=full)


@app.command()
def decode(
    texts: Annotated[
        list[str],
        typer.Argument(
            metavar="TEXT|HEX...",
            help="Codes as typed, or response bytes in hexadecimal; - reads standard input.",
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Read trouble codes: typed, pasted, or from response bytes."""
    from api.commands import decode as command

    command.run(texts, as_json=as_json)


@knowledge_app.command("check")
def knowledge_check(
    folder: Annotated[
        str | None, typer.Argument(metavar="[FOLDER]", help="None: the shipped knowledge.")
    ] = None,
) -> None:
    """Check the knowledge files: reading, shapes, rules, loops."""
    from api.commands import knowledge as command

    if not command.check(folder):
        raise typer.Exit(CHECK_FAILED)


@knowledge_app.command("show")
def knowledge_show(
    term: Annotated[str, typer.Argument(metavar="ID", help="An id such as rc-bearing-play.")],
) -> None:
    """Show what is said about one term, with its links."""
    from api.commands import knowledge as command

    command.show(term)


add_upkeep(knowledge_app)
add_keeping(app)
add_serving(app)
add_trusting(app)


@network_app.command("export")
def network_export(
    case: Annotated[
        str | None,
        typer.Option(
            "--case",
            metavar="CASE.json",
            help="A case document; none: a car of which nothing is known.",
        ),
    ] = None,
) -> None:
    """Write the compiled network as JSON."""
    from api.commands import network as command

    command.run(case)


@app.command()
def schema(
    name: Annotated[str, typer.Argument(metavar="NAME", help="case, answer or network")],
) -> None:
    """Write the JSON Schema of a document."""
    from api.commands import schema as command

    command.run(name)


@app.command()
def replay(  # noqa: PLR0913 - each option is an argument
    cases: Annotated[
        list[str] | None,
        typer.Argument(metavar="[CASES...]", help="Case documents, or folders of them."),
    ] = None,
    truth: Annotated[
        str | None, typer.Option("--truth", metavar="FILE", help="None: truth.json beside them.")
    ] = None,
    simulate: Annotated[
        int, typer.Option("--simulate", metavar="N", help="Draw N cars from the model itself.")
    ] = 0,
    seed: Annotated[int, typer.Option("--seed", help="Start number of all chance.")] = 1,
    budget: Annotated[
        float, typer.Option("--budget", help="Largest work of one evaluation at intake.")
    ] = 5e6,
    workers: Annotated[int, typer.Option("--workers", help="Processes.")] = 2,
    picture: Annotated[
        str | None, typer.Option("--picture", metavar="FILE.png", help="Calibration curve.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Replay cars whose truth is known: cases, or cars simulated from the model itself."""
    from api.commands import replay as command

    command.run(
        cases or [], truth, command.Asked(simulate, seed, budget, workers, picture), as_json=as_json
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    words = sys.argv[1:] if arguments is None else arguments
    if "triage" in words[:2]:  # one case, and the process ends
        from triage.loading import load_lightly

        load_lightly()
    code = run(words)
    gc.freeze()  # the process ends: nobody needs its memory looked through once more
    sys.exit(code)


def run(arguments: Sequence[str]) -> int:
    """Run the command line and return its exit code.

    ``--debug`` is taken wherever it stands.
    """
    debug = "--debug" in arguments
    for stream in (sys.stdout, sys.stderr):
        if hasattr(
            stream, "reconfigure"
        ):  # a character that the terminal lacks is no reason to stop
            stream.reconfigure(errors="replace")
    words = [word for word in arguments if word != "--debug"] or ["--help"]
    try:
        code = app(words, prog_name="drypark", standalone_mode=False)
        sys.stdout.flush()
        if code == INTERRUPTED:  # typer has heard it, and says nothing
            return _tell(f"stopped; {_NOTHING_DONE}", INTERRUPTED)
        return code if isinstance(code, int) else DONE
    except (BrokenPipeError, SystemExit):  # typer exits so when whoever read us has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except StoppedError as stopped:
        return _tell(f"stopped; {stopped}", INTERRUPTED)
    except (KeyboardInterrupt, typer.Abort):
        return _tell(f"stopped; {_NOTHING_DONE}", INTERRUPTED)
    except Exception as error:
        if debug:
            raise
        return _failed(error)


def _failed(error: Exception) -> int:
    """Write what is wrong in a sentence, and return the exit code."""
    if isinstance(error, KnowledgeError):
        return _tell(str(error), CHECK_FAILED)
    if isinstance(error, TriageError):
        return _tell(str(error), BAD_INPUT)
    if isinstance(error, _UsageError):
        what = error.format_message().strip().rstrip(".")  # type: ignore[attr-defined]
        return _tell(f"{what[:1].lower()}{what[1:]}; --help lists what is allowed", BAD_INPUT)
    wrong = _wrong_variables(error)
    if wrong:
        return _tell(wrong, BAD_INPUT)
    return _tell(
        f"Drypark itself is wrong ({type(error).__name__}: {error}); nothing was changed; run the "
        "command again with --debug and report what it shows",
        CHECK_FAILED,
    )


def _wrong_variables(error: Exception) -> str:
    """Return a line for each variable that can't be used; nothing where it is not about those."""
    from pydantic import ValidationError

    if not isinstance(error, ValidationError) or error.title != "Settings":
        return ""
    return "\n".join(
        f"the variable DRYPARK_{'_'.join(map(str, row['loc'])).upper()} is {row['input']!r}; "
        f"{row['msg'][:1].lower()}{row['msg'][1:]}; correct it or leave it out"
        for row in error.errors(include_url=False)
    )


def _tell(sentence: str, code: int) -> int:
    """Write what is wrong, a line for each thing, and return the exit code."""
    for line in sentence.splitlines():
        sys.stderr.write(f"drypark: {line}\n")
    return code


if __name__ == "__main__":
    main()
