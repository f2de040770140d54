"""Events of the office: device keys, facts, plans, rules, notices, expected lists, sheets."""

from __future__ import annotations

from typing import Annotated, ClassVar

from msgspec import Meta

from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import (
    Body,
    Digest,
    DigestOrNone,
    Id,
    Nature,
    Private,
    Reason,
    Sentence,
    Word,
)

PublicKey = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}\Z")]
SignatureHex = Annotated[str, Meta(pattern=r"^[0-9a-f]{128}\Z")]
Column = Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_]{0,63}\Z")]
RowId = Annotated[str, Meta(min_length=1, max_length=128)]
NoticeKey = Annotated[str, Meta(min_length=1, max_length=400)]

# Columns that hold people's data, whatever the table.
PERSONAL_TABLES = frozenset({"people"})
PERSONAL_ENDINGS = ("phone", "email", "contact", "contact_name", "note", "notes")


class DeviceCertified(Body, frozen=True, omit_defaults=True):
    """``key.device_certified``: the office key says which public key a recording device has.

    Subject: the device. `scope` is ``office`` or a site id; outside it, or outside the two
    instants, the device's events do not check. `office_signature` covers the canonical bytes
    of all other fields with the subject (see `pollstead.record.keys`).
    """

    kind: ClassVar[str] = "key.device_certified"
    nature: ClassVar[Nature] = Nature.ENTRY

    public_key: PublicKey
    scope: Id
    valid_from_utc_ms: Annotated[int, Meta(ge=0)]
    valid_to_utc_ms: Annotated[int, Meta(ge=0)]
    practice: bool
    office_signature: SignatureHex


class DeviceRevoked(Body, frozen=True, omit_defaults=True):
    """``key.revoked``: the office key ends a device; its events after counter `last_n` do not check.

    Subject: the device. `last_n` 0 accepts none of its events.
    """

    kind: ClassVar[str] = "key.revoked"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason

    last_n: Annotated[int, Meta(ge=0)]
    office_signature: SignatureHex


class SnapshotTaken(Body, frozen=True, omit_defaults=True):
    """``facts.snapshot_taken``: the county's tables as read; subject ``facts``."""

    kind: ClassVar[str] = "facts.snapshot_taken"
    nature: ClassVar[Nature] = Nature.ENTRY

    digest: Digest


class MappingConfirmed(Body, frozen=True, omit_defaults=True):
    """``mapping.confirmed``: a person accepted how the columns of a foreign table are read.

    `digest` is that of the mapping, which is kept among the snapshots. Subject ``facts``.
    """

    kind: ClassVar[str] = "mapping.confirmed"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("table",)

    table: Column
    digest: Digest


class FixedPrivate(Private, frozen=True, omit_defaults=True):
    """Why a value was fixed, and the value itself where it is about a person."""

    said: ClassVar[tuple[str, ...]] = ("value",)

    reason: Sentence
    value: int | str | bool | None = None


class ValueFixed(Body, frozen=True, omit_defaults=True):
    """``value.fixed``: a person overrules one cell of a table; re-planning honours it.

    Subject: the thing that the row describes. A value about a person (table people, columns
    such as phone) is None here and stands in the private part.
    """

    kind: ClassVar[str] = "value.fixed"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "value"
    key: ClassVar[tuple[str, ...]] = ("table", "row", "field")
    private: ClassVar[type[Private] | None] = FixedPrivate
    private_required: ClassVar[bool] = True

    table: Column
    row: RowId
    field: Column
    value: int | str | bool | None

    def __post_init__(self) -> None:
        if self.value is not None and is_personal(self.table, self.field):
            raise ValueError(
                f"{self.table}.{self.field} is about a person: put its value into the private part"
            )


class ValueUnfixed(Body, frozen=True, omit_defaults=True):
    """``value.unfixed``: the cell follows the table and the plan again."""

    kind: ClassVar[str] = "value.unfixed"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "value"
    key: ClassVar[tuple[str, ...]] = ("table", "row", "field")
    private: ClassVar[type[Private] | None] = Reason

    table: Column
    row: RowId
    field: Column


class PlanComputed(Body, frozen=True, omit_defaults=True):
    """``plan.computed``: a plan version by its digest; `parent` is empty for the first. Subject ``plan``."""

    kind: ClassVar[str] = "plan.computed"
    nature: ClassVar[Nature] = Nature.ENTRY

    digest: Digest
    parent: DigestOrNone = ""


class PlanApproved(Body, frozen=True, omit_defaults=True):
    """``plan.approved``: the author approves this plan version by name. Subject ``plan``."""

    kind: ClassVar[str] = "plan.approved"
    nature: ClassVar[Nature] = Nature.DECISION

    digest: Digest


class RulePrivate(Private, frozen=True, omit_defaults=True):
    """Where the rule stands and who said so."""

    source: Sentence


class RuleConfirmed(Body, frozen=True, omit_defaults=True):
    """``rule.confirmed``: the county confirms one of its rules, with its level. Subject ``rules``.

    `digest` is that of the confirmed parameters; a rule whose parameters changed since counts as
    unconfirmed.
    """

    kind: ClassVar[str] = "rule.confirmed"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("rule",)
    private: ClassVar[type[Private] | None] = RulePrivate

    rule: Annotated[str, Meta(pattern=r"^[a-z][a-z0-9_.-]{0,63}\Z")]
    level: Word
    digest: DigestOrNone = ""


class Words(Private, frozen=True, omit_defaults=True):
    """What the person wrote about it."""

    words: Sentence


class NoticeResolved(Body, frozen=True, omit_defaults=True):
    """``notice.resolved``: a decision about one notice, on the values that `digest` stands for.

    It re-opens by itself when the values change, since their digest does. `resolution` is a
    coded word (explained, recorded_unexplained, accepted …).
    """

    kind: ClassVar[str] = "notice.resolved"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "notice"
    key: ClassVar[tuple[str, ...]] = ("notice_key",)
    private: ClassVar[type[Private] | None] = Words

    notice_key: NoticeKey
    digest: Digest
    resolution: Word


class ExpectedList(Private, frozen=True, omit_defaults=True):
    """The lines of an expected list: ids, serials and seal numbers. Never in a signed field."""

    lines: tuple[FrozenObject, ...]


class ExpectedIssued(Body, frozen=True, omit_defaults=True):
    """``expected.issued``: what a site must find, frozen. Subject: the site.

    `list_digest` is over the salted list; where the list travels with the event it is the digest
    of the private part. `plan` is the plan version's digest, `sheet_set` names the printed sheets.
    """

    kind: ClassVar[str] = "expected.issued"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "expected"
    private: ClassVar[type[Private] | None] = ExpectedList
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    list_digest: Digest
    plan: Digest
    sheet_set: DigestOrNone = ""


class ExpectedAmended(Body, frozen=True, omit_defaults=True):
    """``expected.amended``: a later list takes the place of the one with the digest `replaces`."""

    kind: ClassVar[str] = "expected.amended"
    nature: ClassVar[Nature] = Nature.DECISION
    fact: ClassVar[str] = "expected"
    private: ClassVar[type[Private] | None] = ExpectedList
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    list_digest: Digest
    replaces: Digest
    plan: Digest
    sheet_set: DigestOrNone = ""


class PacketPrinted(Body, frozen=True, omit_defaults=True):
    """``packet.printed``: sheets went to paper. Subject: the site. `sheets` are sheet serials."""

    kind: ClassVar[str] = "packet.printed"
    nature: ClassVar[Nature] = Nature.ENTRY
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    sheets: Annotated[tuple[Id, ...], Meta(max_length=1000)]
    plan: Digest
    list_digest: DigestOrNone = ""


class SideRedacted(Body, frozen=True, omit_defaults=True):
    """``side.redacted``: the private part with this digest was deleted. Subject: that of its event."""

    kind: ClassVar[str] = "side.redacted"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason

    digest: Digest


def is_personal(table: str, field: str) -> bool:
    """Whether a cell is about a person, so that its value may stand in a private part only."""
    return table in PERSONAL_TABLES or field.endswith(PERSONAL_ENDINGS)
