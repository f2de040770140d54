"""``pollstead``: one command line; each command's module is read when it is called, and not before."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import sys
from collections.abc import Sequence

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import ENGLISH, fill, languages, speak, text

COMMANDS = (
    ("new", N_("Make a county folder or workbook, from your own tables if you have them.")),
    ("check", N_("Name faults, contradictions and open items of a county folder.")),
    ("plan", N_("Make a plan version of a county folder.")),
    ("why", N_("Say where a number of the plan comes from.")),
    ("diff", N_("Show what changed between two plan versions.")),
    ("print", N_("Print site packets.")),
    ("serve", N_("Serve the web app on this computer.")),
    ("record", N_("Check, compare, export and merge the record.")),
    ("reconcile", N_("Show differences between what was expected and what was observed.")),
    ("facts", N_("Write a county's facts out as a folder or workbook; read a workbook back.")),
    ("backup", N_("Copy a county folder's store to another place.")),
    ("restore", N_("Bring a county folder's store back from a copy.")),
    ("rebuild", N_("Recompute what is kept and compare it.")),
    ("bench", N_("Measure a part and print the figures.")),
    ("demo", N_("Make and plan the invented county of Larkmoor.")),
)
"""Every command and its help; one whose module is not there is not offered."""

LANGUAGE = "--language"
ANYWAY = "--anyway"


def application() -> cyclopts.App:
    """The command line with all commands that are there; their modules are not read yet."""
    app = cyclopts.App(
        name="pollstead",
        help=text(N_("Plan, record, reconcile and show the polling-place work of a county election office.")),
        version=importlib.metadata.version("pollstead"),
        help_format="plaintext",
        help_epilogue=text(
            N_(
                "Every command takes --language, and --anyway to make a store in a shared folder. "
                "No election authority has reviewed this tool."
            )
        ),
        # The commands give their own exit codes; a usage error is 2, which `main` sees to.
        result_action="return_value",
        exit_on_error=False,
    )
    for name, words in COMMANDS:
        if importlib.util.find_spec(f"pollstead.cli.{name}") is not None:
            app.command(f"pollstead.cli.{name}:app", name=name, help=text(words))
    return app


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its code: 0 done, 1 could not be done, 2 usage."""
    sys.exit(run(list(sys.argv[1:] if arguments is None else arguments)))


def run(arguments: list[str]) -> int:
    """Run one command and give its exit code."""
    language, rest, fault = _language(arguments)
    speak(language)
    if fault:
        print(fault, file=sys.stderr)
        return 2
    from pollstead.store.folders import make_stores_anyway
    from pollstead.store.refusal import Refusal

    make_stores_anyway(ANYWAY in rest)
    rest = [argument for argument in rest if argument != ANYWAY]
    try:
        result = application()(rest)
    except cyclopts.CycloptsError:
        return 2
    except Refusal as refused:
        # Any command may be the first to make a store, and so meet a shared folder.
        for one in (refused.said, *refused.more):
            print(fill(one), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print(text(N_("Stopped.")), file=sys.stderr)
        return 1
    except BrokenPipeError:
        # Whoever read the output has seen enough; the interpreter must not complain when it closes it.
        sys.stdout = None
        return 0
    finally:
        make_stores_anyway(False)
    return result if isinstance(result, int) else 0


def _language(arguments: list[str]) -> tuple[str, list[str], str]:
    """The chosen language, the other arguments, and what is wrong with the choice ("" if nothing)."""
    rest: list[str] = []
    chosen = ENGLISH
    waiting = False
    for argument in arguments:
        if waiting:
            chosen, waiting = argument, False
        elif argument == LANGUAGE:
            waiting = True
        elif argument.startswith(f"{LANGUAGE}="):
            chosen = argument.partition("=")[2]
        else:
            rest.append(argument)
    if waiting or chosen not in languages():
        known = ", ".join(languages())
        return (
            ENGLISH,
            rest,
            fill(message(N_("{option} takes one of {known}."), option=LANGUAGE, known=known)),
        )
    return chosen, rest, ""


if __name__ == "__main__":
    main()
