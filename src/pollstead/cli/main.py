"""``pollstead``: one command line; each command's module is read when it is called, and not before."""

from __future__ import annotations

import codecs
import contextlib
import importlib.metadata
import importlib.util
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import ENGLISH, fill, languages, speak, text

COMMANDS = (
    ("new", N_("Make a county folder or workbook, from your own tables if you have them.")),
    ("check", N_("Name faults, contradictions and open items of a county folder.")),
    ("plan", N_("Make a plan version of a county folder.")),
    ("approve", N_("Approve a plan version by name, also an earlier one again.")),
    ("why", N_("Say where a number of the plan comes from.")),
    ("fix", N_("Fix a number of the plan; planning again honors it.")),
    ("unfix", N_("Let a number that a person fixed follow the plan again.")),
    ("split", N_("Split the fleet over all sites, with a bound.")),
    ("diff", N_("Show what changed between two plan versions.")),
    ("print", N_("Print site packets.")),
    ("serve", N_("Serve the web app on this computer.")),
    ("calendar", N_("Say what is due and late, and who owns it.")),
    ("record", N_("Check, compare, export and merge the record.")),
    ("reconcile", N_("Show differences between what was expected and what was observed.")),
    ("hours", N_("Compare hours assigned, sworn and paid; say when two parties were there.")),
    ("counts", N_("Compare what sites, receiving and canvass counted; take counts in from a file.")),
    (
        "timings",
        N_("Say what check-in times, line counts and timed samples tell; take values from them."),
    ),
    ("facts", N_("Write a county's facts out as a folder or workbook; read a workbook back.")),
    ("change", N_("Change something late: what becomes void, what to print, whom to call.")),
    ("changes", N_("List changes of the facts, undo one by its number.")),
    ("fleet", N_("Say where each device is on which days, what is short, and what a cart holds.")),
    ("ready", N_("Say which ten calls make the morning open on time, and how each site stands.")),
    ("calls", N_("Say which calls were made, and who is still to be called.")),
    ("heard", N_("Say which sites are silent past the minute they are expected.")),
    ("waits", N_("Estimate the wait now at each site from counted lines, and say which move helps.")),
    ("not-back", N_("Say which thing has not come back, who had it last, and whom to call.")),
    ("drivers", N_("Print the driver pages: stops in order, what goes to each door, whom to call.")),
    ("paper", N_("Say which signed paper is back, and what is still to be keyed from it.")),
    (
        "incidents",
        N_("Say what goes wrong where, what came from several sites, and which minutes were lost."),
    ),
    ("orders", N_("Say which orders hold, when voting ends by them, and who has not read them back.")),
    ("decks", N_("Make test decks for each ballot style, and compare what a device reports.")),
    ("labels", N_("Print labels with codes for devices, carts, bags and cases.")),
    ("stock", N_("Say what seals came in, where they are, and when they run short.")),
    ("backup", N_("Copy a county folder's store to another place.")),
    ("restore", N_("Bring a county folder's store back from a copy.")),
    ("book", N_("Print the office book for whoever takes over.")),
    ("practice", N_("Make a practice election from a county's facts.")),
    ("rebuild", N_("Recompute what is kept and compare it.")),
    ("bench", N_("Measure a part and print the figures.")),
    ("demo", N_("Make and plan the invented county of Larkmoor.")),
)
"""Every command and its help; one whose module is not there is not offered."""

LANGUAGE = "--language"
ANYWAY = "--anyway"
STOPPED = 130
"""What a shell expects of a program that Ctrl-C ended: 128 and the number of the signal (POSIX shells)."""
ESCAPED = "pollstead-escaped"


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
        # Nor may it leave without a word when Ctrl-C ends it.
        suppress_keyboard_interrupt=False,
    )
    for name, words in COMMANDS:
        module = f"pollstead.cli.{name.replace('-', '_')}"
        if importlib.util.find_spec(module) is not None:
            app.command(f"{module}:app", name=name, help=text(words))
    return app


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its code: 0 done, 1 could not be done, 2 usage, 130 stopped."""
    _write_any_letter()
    sys.exit(run(list(sys.argv[1:] if arguments is None else arguments)))


def run(arguments: list[str]) -> int:
    """Run one command and give its exit code."""
    language, rest, fault = _language(arguments)
    speak(language)
    if fault:
        print(fault, file=sys.stderr)
        return 2
    from pollstead.store.folders import make_stores_anyway
    from pollstead.store.passphrase import PASSPHRASE
    from pollstead.store.refusal import Refusal

    PASSPHRASE.ask_by(_ask_passphrase)
    make_stores_anyway(ANYWAY in rest)
    rest = [argument for argument in rest if argument != ANYWAY]
    try:
        result = application()(rest)
        if sys.stdout is not None:
            # What still waits to be written must fail here, where the words for it are.
            sys.stdout.flush()
        from pollstead.cli.after import copy_after_command, say_practice

        say_practice(rest)
        copy_after_command(rest)
    except cyclopts.CycloptsError:
        return 2
    except Refusal as refused:
        # Any command may be the first to make a store, and so meet a shared folder.
        for one in (refused.said, *refused.more):
            print(fill(one), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print(text(N_("Stopped.")), file=sys.stderr)
        return STOPPED
    except BrokenPipeError:
        # Whoever read the output has seen enough; the interpreter must not complain when it closes it.
        sys.stdout = None
        return 0
    except OSError as error:
        return _tell_trouble(error)
    finally:
        make_stores_anyway(False)
        PASSPHRASE.ask_by(None)
    return result if isinstance(result, int) else 0


def _ask_passphrase(path: Path) -> str | None:
    """Ask the person at the terminal; None where nobody is there, so that the command says so in words."""
    if sys.stdin is None or not sys.stdin.isatty():
        return None
    import getpass

    try:
        return getpass.getpass(fill(message(N_("Passphrase of {file}: "), file=str(path))))
    except EOFError:
        return None


def _tell_trouble(error: OSError) -> int:
    """Say what the disk, the store or the network did not do; no command may end in a traceback for it."""
    from pollstead.store.trouble import StoreTrouble

    if isinstance(error, StoreTrouble):
        said = error.said
    elif error.filename is not None:
        said = message(
            N_("{path}: {why}. Look at the path, its rights and the space on the disk, then do it again."),
            path=str(error.filename),
            why=error.strerror or type(error).__name__,
        )
    elif error.errno is None:
        # Raised by this program, with its own words.
        said = message("{words}", words=str(error))
    else:
        said = message(
            N_("Not done: {why}. Look at the space on the disk and at where the output goes."),
            why=error.strerror or type(error).__name__,
        )
    # Where output itself could not be written, what is left of it would fail again when Python closes it.
    with contextlib.suppress(OSError):
        print(fill(said), file=sys.stderr)
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        sys.stdout = None
    return 1


def _write_any_letter() -> None:
    """Let no letter stop a command: one that the terminal cannot write becomes ``\\u`` and four digits.

    JSON stays JSON then. Without it a terminal in an old code page ends a plan in an error.
    """
    codecs.register_error(ESCAPED, _escaped)
    if sys.stdout is None:
        # Started without an output: what is written goes nowhere, and what a command does is done.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - open as long as the program runs
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=ESCAPED)


def _escaped(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    units = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2)), error.end


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
