"""Read a JSON report of the open results format; fields that are not named here are never held."""

from __future__ import annotations

import codecs

import msgspec

from pollstead.intake.counts.results import BallotCount, ElectionCounts, Report, Unit

_TYPE = "ElectionResults.ElectionReport"


class _Language(msgspec.Struct, rename={"content": "Content"}, kw_only=True):
    content: str = ""


class _Text(msgspec.Struct, rename={"text": "Text"}, kw_only=True):
    text: list[_Language] = []


class _Identifier(msgspec.Struct, rename={"value": "Value"}, kw_only=True):
    value: str = ""


class _Unit(
    msgspec.Struct,
    rename={
        "id": "@id",
        "of": "@type",
        "kind": "Type",
        "other_kind": "OtherType",
        "name": "Name",
        "number": "Number",
        "serial": "SerialNumber",
        "identifiers": "ExternalIdentifier",
    },
    kw_only=True,
):
    id: str
    of: str
    kind: str = ""
    other_kind: str = ""
    name: _Text | None = None
    number: str = ""
    serial: str = ""
    identifiers: list[_Identifier] = []


class _Device(
    msgspec.Struct,
    rename={"kind": "Type", "other": "OtherType", "maker": "Manufacturer", "model": "Model"},
    kw_only=True,
):
    kind: str = ""
    other: str = ""
    maker: str = ""
    model: str = ""


class _Counts(
    msgspec.Struct,
    rename={
        "unit": "GpUnitId",
        "item": "Type",
        "other_item": "OtherType",
        "device": "DeviceClass",
        "cast": "BallotsCast",
        "outstanding": "BallotsOutstanding",
        "rejected": "BallotsRejected",
        "suppressed": "IsSuppressedForPrivacy",
        "round": "Round",
    },
    kw_only=True,
):
    unit: str
    item: str
    other_item: str = ""
    device: _Device | None = None
    cast: int | None = None
    outstanding: int | None = None
    rejected: int | None = None
    suppressed: bool = False
    round: int | None = None


class _Election(msgspec.Struct, rename={"name": "Name", "counts": "BallotCounts"}, kw_only=True):
    name: _Text | None = None
    counts: list[_Counts] = []


class _Report(
    msgspec.Struct,
    rename={
        "of": "@type",
        "status": "Status",
        "is_test": "IsTest",
        "units": "GpUnit",
        "elections": "Election",
    },
    kw_only=True,
):
    of: str
    status: str
    is_test: bool = False
    units: list[_Unit] = []
    elections: list[_Election] = []


def read_json(file: str, data: bytes) -> Report:
    """The report in `data`; raises ValueError naming the field that does not fit."""
    try:
        held = msgspec.json.decode(_utf8(data), type=_Report)
    except (msgspec.DecodeError, RecursionError) as error:
        raise ValueError(str(error) or "nested too deep") from error
    if held.of != _TYPE:
        raise ValueError(f"@type {held.of!r}, expected {_TYPE!r}")
    number = 0
    elections = []
    for election in held.elections:
        counts = []
        for count in election.counts:
            number += 1
            counts.append(_count(number, count))
        elections.append(ElectionCounts(name=_shown(election.name), counts=tuple(counts)))
    return Report(
        file=file,
        status=held.status,
        is_test=held.is_test,
        units=tuple(_unit(one) for one in held.units),
        elections=tuple(elections),
    )


def _utf8(data: bytes) -> bytes:
    """The bytes as UTF-8 without a mark at the start; raises ValueError where they are no text."""
    for mark in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        if data.startswith(mark):
            return data.decode("utf-16").encode("utf-8")
    return data.removeprefix(codecs.BOM_UTF8)


def _shown(text: _Text | None) -> str:
    return next((one.content.strip() for one in (text.text if text else ()) if one.content.strip()), "")


def _unit(one: _Unit) -> Unit:
    device = one.of.endswith("ReportingDevice")
    others = (one.serial, one.number, *(held.value for held in one.identifiers))
    return Unit(
        id=one.id,
        kind="device" if device else (one.kind or one.other_kind),
        name=_shown(one.name),
        others=tuple(text.strip() for text in others if text.strip()),
    )


def _count(number: int, one: _Counts) -> BallotCount:
    device = one.device
    return BallotCount(
        number=number,
        unit=one.unit,
        item=one.other_item if one.item == "other" and one.other_item else one.item,
        device=" ".join((device.kind, device.other, device.maker, device.model)).strip() if device else "",
        cast=one.cast,
        outstanding=one.outstanding,
        rejected=one.rejected,
        suppressed=one.suppressed,
        round=one.round,
    )
