"""Values are frozen all the way down: every field of every value is looked at."""

from __future__ import annotations

import datetime as dt
import decimal
import enum
import fractions
import importlib
import pkgutil
import types
import typing
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import msgspec
import numpy as np
import pytest

import pollstead
from pollstead.election.values import Value, frozen_array
from pollstead.record.frozen_json import FrozenObject

FROZEN_LEAVES = (
    bool,
    int,
    float,
    str,
    bytes,
    type(None),
    dt.date,
    dt.datetime,
    dt.time,
    dt.timedelta,
    decimal.Decimal,
    fractions.Fraction,
)
# Classes that are no values but keep the same promise; each is shown below to refuse a change.
FROZEN_OTHERWISE = (FrozenObject,)
ENTRY_POINTS = ("__main__",)


def faults_of_type(kind: Any) -> list[str]:
    """Why a field of type `kind` could change after it was made; empty when it cannot."""
    if isinstance(kind, typing.NewType):
        return faults_of_type(kind.__supertype__)
    if isinstance(kind, typing.TypeVar):
        return []  # what stands in its place is a value, checked on its own
    origin = get_origin(kind)
    if origin is Annotated:
        return faults_of_type(get_args(kind)[0])
    if origin is Literal:
        return []
    if origin in (Union, types.UnionType, tuple, frozenset):
        return [fault for part in get_args(kind) if part is not Ellipsis for fault in faults_of_type(part)]
    if origin is not None and isinstance(origin, type) and issubclass(origin, (Value, np.ndarray)):
        return []
    if isinstance(kind, type):
        if kind in FROZEN_LEAVES or issubclass(kind, (enum.Enum, Value, np.ndarray, *FROZEN_OTHERWISE)):
            return []
        if issubclass(kind, msgspec.Struct):
            return [] if kind.__struct_config__.frozen else [f"{kind.__name__} is not frozen"]
    return [f"{kind!r} can change, or may hold what can"]


def all_values() -> list[type[Value]]:
    """Every subclass of Value that any module of the package makes."""
    for module in pkgutil.walk_packages(pollstead.__path__, "pollstead."):
        if module.name.rsplit(".", 1)[-1] not in ENTRY_POINTS:
            importlib.import_module(module.name)
    found: list[type[Value]] = []
    waiting: list[type[Value]] = [Value]
    while waiting:
        for kind in waiting.pop().__subclasses__():
            waiting.append(kind)
            if kind.__module__.startswith("pollstead."):
                found.append(kind)
    return found


def test_every_value_is_frozen_all_the_way_down() -> None:
    """No value has a field that can change after the value was made."""
    values = all_values()
    assert values, "no value was found; is the walk broken?"
    faults = []
    for kind in values:
        name = f"{kind.__module__}.{kind.__qualname__}"
        if not kind.__struct_config__.frozen:
            faults.append(f"{name} is not frozen")
        hints = typing.get_type_hints(kind, include_extras=True, localns={"np": np})
        for field in kind.__struct_fields__:
            faults += [f"{name}.{field}: {fault}" for fault in faults_of_type(hints[field])]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("kind", [list[int], dict[str, int], set[int], tuple[list[int], ...], Any, object])
def test_a_field_that_can_change_is_noticed(kind: Any) -> None:
    """The walk above does fail for each kind of field that may change."""
    assert faults_of_type(kind)


def test_an_array_in_a_value_cannot_be_written() -> None:
    """An array made for a value refuses every write and does not follow its source."""
    source = np.array([1, 2, 3])
    array = frozen_array(source, "int64")
    source[0] = 9
    assert array[0] == 1
    with pytest.raises(ValueError, match="read-only"):
        array[0] = 2


def test_the_free_part_of_an_event_cannot_change() -> None:
    """A frozen object refuses every write, holds no list, and does not follow what it was made from."""
    source = {"counts": [1, 2], "inner": {"a": 1}}
    body = FrozenObject(source)
    source["counts"].append(3)
    source["inner"]["a"] = 2
    assert body["counts"] == (1, 2)
    assert body["inner"]["a"] == 1
    with pytest.raises(TypeError):
        body["counts"] = ()
    with pytest.raises(AttributeError):
        body.extra = 1
