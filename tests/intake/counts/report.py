"""A report of the open results format for an invented county, as JSON and as XML, from one description."""

from __future__ import annotations

import copy
import json
from typing import Any
from xml.sax.saxutils import escape, quoteattr

NAMESPACE = "http://itl.nist.gov/ns/voting/1500-100/v2"


def text(content: str) -> dict[str, Any]:
    """An InternationalizedText of one language."""
    return {
        "@type": "ElectionResults.InternationalizedText",
        "Text": [{"@type": "ElectionResults.LanguageString", "Content": content, "Language": "en"}],
    }


def unit(own: str, name: str, kind: str, **more: Any) -> dict[str, Any]:
    """A reporting unit."""
    return {"@type": "ElectionResults.ReportingUnit", "@id": own, "Name": text(name), "Type": kind, **more}


def counts(of: str, item: str, cast: int, device: str = "", **more: Any) -> dict[str, Any]:
    """A count of ballots."""
    held = {
        "@type": "ElectionResults.BallotCounts",
        "GpUnitId": of,
        "Type": item,
        "BallotsCast": cast,
        **more,
    }
    if device:
        held["DeviceClass"] = {"@type": "ElectionResults.DeviceClass", "Type": device}
    return held


SECRET_COUNT = 987654
"""A number of votes that must be found nowhere in what was read."""


def make_report(units: list[dict[str, Any]], ballots: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """A whole report with a contest, whose votes are to be passed over."""
    contest = {
        "@type": "ElectionResults.CandidateContest",
        "@id": "contest-1",
        "ElectionDistrictId": units[0]["@id"],
        "Name": "Water commissioner",
        "VotesAllowed": 1,
        "ContestSelection": [
            {
                "@type": "ElectionResults.CandidateSelection",
                "@id": "selection-1",
                "VoteCounts": [
                    {
                        "@type": "ElectionResults.VoteCounts",
                        "GpUnitId": units[0]["@id"],
                        "Type": "total",
                        "Count": SECRET_COUNT,
                    }
                ],
            }
        ],
    }
    return {
        "@type": "ElectionResults.ElectionReport",
        "Format": "summary-contest",
        "GeneratedDate": "2028-11-09T10:00:00-05:00",
        "Issuer": "Larkmoor County",
        "IssuerAbbreviation": "LM",
        "SequenceStart": 1,
        "SequenceEnd": 1,
        "Status": "unofficial-partial",
        "VendorApplicationId": "a test",
        "GpUnit": units,
        "Election": [
            {
                "@type": "ElectionResults.Election",
                "ElectionScopeId": units[0]["@id"],
                "Name": text("General election"),
                "StartDate": "2028-11-07",
                "EndDate": "2028-11-07",
                "Type": "general",
                "BallotCounts": ballots,
                "Contest": [contest],
            }
        ],
        **more,
    }


USUAL_UNITS = [
    unit("ru-county", "Larkmoor County", "county"),
    unit(
        "ru-1",
        "ANSEL HALL (old name)",
        "polling-place",
        ExternalIdentifier=[
            {"@type": "ElectionResults.ExternalIdentifier", "Type": "local-level", "Value": "S01"}
        ],
    ),
    unit("ru-2", "Harbor Lane Library", "vote-center"),
    unit("ru-p1", "Precinct 001", "precinct"),
    {
        "@type": "ElectionResults.ReportingDevice",
        "@id": "dev-1",
        "SerialNumber": "LM-V-0001",
    },
]

USUAL = make_report(
    USUAL_UNITS,
    [
        counts("ru-county", "total", 999),
        counts("ru-1", "election-day", 300, "opscan-precinct"),
        counts("ru-1", "election-day", 12, "bmd"),
        counts("ru-1", "early", 40, BallotsRejected=1),
        counts("ru-2", "election-day", 205),
        counts("ru-2", "election-day", 200, "opscan-precinct"),
        counts("ru-p1", "election-day", 150),
        counts("dev-1", "election-day", 300),
        counts("ru-2", "write-in", 7),
        counts("ru-2", "provisional", 3, IsSuppressedForPrivacy=True),
    ],
)


def as_json(report: dict[str, Any]) -> bytes:
    """The report as JSON."""
    return json.dumps(report, ensure_ascii=False).encode("utf-8")


XML_ORDER = {
    "ElectionReport": "Election ExternalIdentifier Format GeneratedDate GpUnit Header Issuer"
    " IssuerAbbreviation IsTest Notes SequenceStart SequenceEnd Status TestType VendorApplicationId",
    "Election": "BallotCounts BallotStyle Candidate Contest CountStatus ElectionScopeId Name StartDate"
    " EndDate Type",
    "ReportingUnit": "ComposingGpUnitIds ExternalIdentifier Name Number Type",
    "ReportingDevice": "ExternalIdentifier Name DeviceClass SerialNumber",
    "ExternalIdentifier": "Type OtherType Value",
    "BallotCounts": "DeviceClass GpUnitId IsSuppressedForPrivacy Round Type OtherType BallotsCast"
    " BallotsOutstanding BallotsRejected",
    "DeviceClass": "Manufacturer Model Type OtherType",
    "CandidateContest": "ContestSelection ElectionDistrictId Name VotesAllowed",
    "CandidateSelection": "VoteCounts",
    "VoteCounts": "GpUnitId Type Count",
    "InternationalizedText": "Text",
}
ABSTRACT = {"GpUnit", "Contest", "ContestSelection"}


def as_xml(report: dict[str, Any]) -> bytes:
    """The report as XML, elements in the order that the schema asks for."""
    body = _element("ElectionReport", copy.deepcopy(report), top=True)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}'.encode()


def _element(tag: str, held: Any, *, top: bool = False) -> str:
    if isinstance(held, list):
        return "".join(_element(tag, one) for one in held)
    if not isinstance(held, dict):
        shown = str(held).lower() if isinstance(held, bool) else str(held)
        return f"<{tag}>{escape(shown)}</{tag}>"
    kind = held.pop("@type").partition(".")[2]
    if kind == "LanguageString":
        return f"<{tag} Language={quoteattr(held['Language'])}>{escape(held['Content'])}</{tag}>"
    attributes = f' xmlns="{NAMESPACE}" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"' if top else ""
    if "@id" in held:
        attributes += f" ObjectId={quoteattr(held.pop('@id'))}"
    if tag in ABSTRACT:
        attributes += f' xsi:type="{kind}"'
    order = XML_ORDER[kind].split()
    assert set(held) <= set(order), (kind, set(held) - set(order))
    inside = "".join(_element(name, held[name]) for name in order if name in held)
    return f"<{tag}{attributes}>{inside}</{tag}>"
