"""Mark English text for the catalogue without translating it.

The inner parts speak in templates and parameters; only ``show`` and ``cli`` turn them into a
reader's language.
"""

from __future__ import annotations

from pollstead.election.values import Value


def N_(template: str) -> str:  # noqa: N802 - the gettext convention for "translate later"
    """Return `template` unchanged; the catalogue extractor finds it by this call."""
    return template


class Param(Value, frozen=True, kw_only=True):
    """One named parameter of a message: a whole number or a text."""

    name: str
    value: int | str


class Message(Value, frozen=True, kw_only=True):
    """An English template with named ``{parameters}``, to be translated and filled in later."""

    template: str
    params: tuple[Param, ...] = ()

    def english(self) -> str:
        """The message in US English, for logs, tests and the command line's default."""
        return self.template.format_map({p.name: p.value for p in self.params})


def message(template: str, **params: int | str) -> Message:
    """Make a `Message`; parameters are kept in the order given."""
    return Message(template=template, params=tuple(Param(name=k, value=v) for k, v in params.items()))
