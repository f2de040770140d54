"""The command line as it is: names of commands, of options, and their help."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

from found import Found

if TYPE_CHECKING:
    from cyclopts import App

HOME = "pollstead.cli.main"


def app() -> App:
    """The command line with all its commands."""
    made: App = importlib.import_module(HOME).application()
    return made


def commands(app: App, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], App]]:
    """Every command below `app` with the words that call it."""
    for name in app:
        if name.startswith("-"):
            continue
        inner = app[name]
        if isinstance(inner, type(app)):
            yield (*path, name), inner
            yield from commands(inner, (*path, name))


def options(app: App) -> Iterator[tuple[str, str]]:
    """(name, help) of every argument of one command."""
    if app.default_command is None:
        return
    for argument in app.assemble_argument_collection():
        if argument.show:
            for name in argument.names:
                yield name, ""
            if argument.parameter.help:
                yield argument.names[0], argument.parameter.help


def command_texts() -> Iterator[Found]:
    """Commands, options and their help."""
    for path, command in commands(app()):
        yield Found(" ".join(path), "command line")
        if command.help:
            yield Found(command.help.split("\n\n")[0].strip(), "command line")
        for name, told in options(command):
            yield Found(name, "command line")
            if told:
                yield Found(told, "command line")
