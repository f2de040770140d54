"""Read an XML report of the open results format as a stream; a document type or an entity is refused.

Contests, candidates and people are dropped as soon as they end, so that their content is never held.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import TYPE_CHECKING

from pollstead.intake.counts.results import BallotCount, ElectionCounts, Report, Unit

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

NAMESPACE = "http://itl.nist.gov/ns/voting/1500-100/v2"
_XSI_TYPE = "{http://www.w3.org/2001/XMLSchema-instance}type"
_IN = f"{{{NAMESPACE}}}"
_DEEPEST = 60
_KEPT = frozenset({"ElectionReport", "Election", "BallotCounts", "GpUnit"})


def read_xml(file: str, data: bytes) -> Report:
    """The report in `data`; raises ValueError saying what does not fit."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException

    units: list[Unit] = []
    elections: list[ElectionCounts] = []
    counts: list[BallotCount] = []
    number = 0
    top: dict[str, str] = {}
    try:
        for depth, path, element in _ends(data):
            name = path[-1]
            if path[:-1] == ("ElectionReport",) and name in ("Status", "IsTest"):
                top[name] = (element.text or "").strip()
            elif name == "GpUnit" and depth == 2:
                units.append(_unit(element))
            elif name == "BallotCounts" and depth == 3:
                number += 1
                counts.append(_count(number, element))
            elif name == "Election" and depth == 2:
                elections.append(ElectionCounts(name=_text(element.find(f"{_IN}Name")), counts=tuple(counts)))
                counts = []
    except (ParseError, UnicodeError, LookupError) as error:
        raise ValueError(str(error)) from error
    except DefusedXmlException as error:
        raise ValueError("a document type or an entity, which this format does not need") from error
    if "Status" not in top:
        raise ValueError("ElectionReport without Status")
    return Report(
        file=file,
        status=top["Status"],
        is_test=top.get("IsTest", "") in ("true", "1"),
        units=tuple(units),
        elections=tuple(elections),
    )


def _ends(data: bytes) -> Iterator[tuple[int, tuple[str, ...], Element]]:
    """Each element as it ends, with its depth and path; what is not read is emptied."""
    from defusedxml.ElementTree import iterparse

    path: list[str] = []
    open_elements: list[Element] = []
    for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
        tag = str(element.tag)
        if event == "start":
            if not path and tag != f"{_IN}ElectionReport":
                raise ValueError(f"the root {tag!r}, expected ElectionReport of {NAMESPACE}")
            path.append(tag.removeprefix(_IN))
            open_elements.append(element)
            if len(path) > _DEEPEST:
                raise ValueError(f"elements nested deeper than {_DEEPEST}")
            continue
        yield len(path), tuple(path), element
        open_elements.pop()
        path.pop()
        # Depth 3 is below an election or a unit: names and identifiers of both are still needed.
        done = len(path) == 1 or (len(path) == 2 and path[1] == "Election" and tag != f"{_IN}Name")
        if done and open_elements:
            open_elements[-1].remove(element)


def _text(element: Element | None) -> str:
    """The first text of an InternationalizedText."""
    found = () if element is None else element.findall(f"{_IN}Text")
    return next((text.strip() for one in found if (text := one.text or "").strip()), "")


def _of(element: Element, name: str) -> str:
    return (element.findtext(f"{_IN}{name}") or "").strip()


def _unit(element: Element) -> Unit:
    device = element.get(_XSI_TYPE, "").rpartition(":")[2] == "ReportingDevice"
    identifiers = (_of(one, "Value") for one in element.findall(f"{_IN}ExternalIdentifier"))
    others = (_of(element, "SerialNumber"), _of(element, "Number"), *identifiers)
    return Unit(
        id=element.get("ObjectId", ""),
        kind="device" if device else (_of(element, "Type") or _of(element, "OtherType")),
        name=_text(element.find(f"{_IN}Name")),
        others=tuple(filter(None, others)),
    )


def _count(number: int, element: Element) -> BallotCount:
    device = element.find(f"{_IN}DeviceClass")
    words = (
        (_of(device, n) for n in ("Type", "OtherType", "Manufacturer", "Model")) if device is not None else ()
    )
    item, other = _of(element, "Type"), _of(element, "OtherType")
    return BallotCount(
        number=number,
        unit=_of(element, "GpUnitId"),
        item=other if item == "other" and other else item,
        device=" ".join(filter(None, words)),
        cast=_whole(element, "BallotsCast", number),
        outstanding=_whole(element, "BallotsOutstanding", number),
        rejected=_whole(element, "BallotsRejected", number),
        suppressed=_of(element, "IsSuppressedForPrivacy") in ("true", "1"),
        round=_whole(element, "Round", number),
    )


def _whole(element: Element, name: str, number: int) -> int | None:
    text = _of(element, name)
    if not text:
        return None
    digits = text.removeprefix("-").removeprefix("+")
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 15):
        raise ValueError(f"{name} of BallotCounts {number} is {text[:40]!r}, expected a whole number")
    return int(text)
