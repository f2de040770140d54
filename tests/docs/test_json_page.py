"""docs/formats/json.md covers every command with JSON; the tutorial's test compares what they print."""

from __future__ import annotations

import from_commands
import json_fields


def test_a_field_that_the_page_lacks_is_noticed() -> None:
    """A new field, a changed type, a field that went and an empty list of nobody's are each named."""
    fields = {"a": "text or null", "b[].c": "number", "d": "yes or no"}
    assert json_fields.differences({"a": None, "b": [{"c": 1}], "d": True}, fields) == []
    assert json_fields.differences({"a": "x", "b": [], "d": False}, fields) == []
    assert json_fields.differences({"a": 1, "b": [{"c": "x"}], "e": [], "d": True}, fields) == [
        "a (number) is not on the page",
        "b[].c (text) is not on the page",
        "e[] (empty) is not on the page",
    ]
    assert json_fields.differences({"a": "x", "b": []}, fields) == ["d is not printed"]
    assert json_fields.differences({"pairs": []}, {"pairs[][]": "text"}) == []


def test_every_command_with_json_is_on_the_page() -> None:
    """No command that offers --json is left out."""
    offering = {
        " ".join(path)
        for path, command in from_commands.commands(from_commands.app())
        if "--json" in {name for name, _ in from_commands.options(command)}
    }
    on_page = {" ".join(word for word in name.split() if word.islower()) for name in json_fields.documented()}
    assert offering == on_page
