#!/usr/bin/env python3
"""Check an exported Pollstead record with Python's standard library alone.

    python3 verify.py FOLDER [--head EARLIER_HEAD.json] [--office-key HEX] [--pure]

Names every event that was changed, removed, reordered or doubled, one line each. Exit code 0: the
record checks; 1: it does not; 2: the folder or an option cannot be read. The format is described in
docs/formats/record.md; this file was written from that page and shares no code with the program
that writes records. Ed25519 is checked by the ``cryptography`` package where it is present, else
(or with --pure) in plain Python after RFC 8032.
"""

from __future__ import annotations

import argparse
import datetime
import hashlib
import json
import pathlib
import re
import sys
import unicodedata
from collections.abc import Callable, Sequence
from typing import Any

Point = tuple[int, int, int, int]
Fits = Callable[[bytes, bytes, bytes], bool]

EVENT_CONTEXT = b"pollstead/event/v1\x00"
OFFICE_CONTEXT = b"pollstead/office/v1\x00"
LAYOUT = "pollstead-record-1"
LARGEST = 2**53 - 1
DEEPEST = 8
LARGEST_EVENT_BYTES = 65536
DIGEST = re.compile(r"[0-9a-f]{64}")
KEY = re.compile(r"[a-z0-9_]{1,64}")
ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}(/[A-Za-z0-9][A-Za-z0-9._-]{0,63}){0,7}")
KIND = re.compile(r"[a-z][a-z0-9_]{0,31}(\.[a-z][a-z0-9_]{0,31}){1,3}")
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
FIELDS = (
    "after body day device kind n offset_min people prev private site subject uncertainty_ms utc_ms v"
).split()
LARGEST_SLACK_MS = 3600000
OFFICE_WORDS = "expected facts key mapping packet plan rule side value".split()
HEAD_FIELDS = "layout log_root record redacted root size".split()
MEANS = ("own_device", "code", "name_only")
PARTS = ("author", "second", "giver", "receiver", "witness")


# ---------------------------------------------------------------- Ed25519 (RFC 8032, sections 5.1, 6)

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
SQRT_M1 = pow(2, (P - 1) // 4, P)


def _add(a: Point, b: Point) -> Point:
    """Add two points in extended coordinates (RFC 8032, 5.1.4)."""
    e = (a[1] - a[0]) * (b[1] - b[0]) % P
    f = (a[1] + a[0]) * (b[1] + b[0]) % P
    g = 2 * a[3] * b[3] * D % P
    h = 2 * a[2] * b[2] % P
    e, g, h, f = f - e, h - g, h + g, e + f
    return (e * g % P, h * f % P, g * h % P, e * f % P)


def _multiply(scalar: int, point: Point) -> Point:
    """Multiply a point by a whole number."""
    total: Point = (0, 1, 1, 0)
    while scalar > 0:
        if scalar & 1:
            total = _add(total, point)
        point = _add(point, point)
        scalar >>= 1
    return total


def _same(a: Point, b: Point) -> bool:
    """Whether two points in extended coordinates are equal."""
    return (a[0] * b[2] - b[0] * a[2]) % P == 0 and (a[1] * b[2] - b[1] * a[2]) % P == 0


def _decode(data: bytes) -> Point | None:
    """The point that 32 bytes stand for, or None (RFC 8032, 5.1.3)."""
    y = int.from_bytes(data, "little")
    sign = y >> 255
    y &= (1 << 255) - 1
    if y >= P:
        return None
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * SQRT_M1 % P
    if (x * x - square) % P or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = P - x
    return (x, y, 1, x * y % P)


_BASE_Y = 4 * pow(5, P - 2, P) % P
BASE = _decode(_BASE_Y.to_bytes(32, "little")) or (0, 1, 1, 0)


def ed25519_fits_pure(public: bytes, signature: bytes, message: bytes) -> bool:
    """Whether the signature is that of `public` over `message`, in plain Python (RFC 8032, 5.1.7)."""
    if len(public) != 32 or len(signature) != 64:
        return False
    a, r = _decode(public), _decode(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if a is None or r is None or s >= L:
        return False
    h = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % L
    return _same(_multiply(s, BASE), _add(r, _multiply(h, a)))


def ed25519_by_library() -> Fits | None:
    """The same check by the ``cryptography`` package, or None where it is not installed."""
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError:
        return None

    def fits(public: bytes, signature: bytes, message: bytes) -> bool:
        try:
            Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True

    return fits


# ---------------------------------------------------------------- canonical form and tree


def canonical(value: Any) -> bytes:
    """RFC 8785 bytes of what an event may hold: whole numbers, text, ASCII keys, lists, objects."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False)
    return text.encode("utf-8")


def no_float(text: str) -> Any:
    """Refuse a number with a fraction or an exponent."""
    raise ValueError(f"{text} is not a whole number")


def no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Refuse an object in which a key stands twice."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def parse(data: bytes) -> Any:
    """Parse JSON strictly."""
    try:
        return json.loads(data, parse_float=no_float, parse_constant=no_float, object_pairs_hook=no_twins)
    except RecursionError:
        raise ValueError("nested too deep") from None


def check_json(value: Any, depth: int = 0) -> None:
    """Refuse what an event may not hold."""
    if depth > DEEPEST:
        raise ValueError(f"nested deeper than {DEEPEST}")
    if isinstance(value, dict):
        for key, inner in value.items():
            if not KEY.fullmatch(key):
                raise ValueError(f"key {key!r} is not of a-z, 0-9 and _")
            check_json(inner, depth + 1)
    elif isinstance(value, list):
        for inner in value:
            check_json(inner, depth + 1)
    elif isinstance(value, str):
        if not unicodedata.is_normalized("NFC", value):
            raise ValueError("text is not in Unicode normal form C")
    elif value is not None and not isinstance(value, bool) and abs(value) > LARGEST:
        raise ValueError(f"{value} is beyond 2^53 - 1")


def merkle_root(leaves: Sequence[bytes]) -> bytes:
    """RFC 9162, section 2.1.1, by its recursive definition."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    split = 1 << (len(leaves) - 1).bit_length() - 1
    left, right = merkle_root(leaves[:split]), merkle_root(leaves[split:])
    return hashlib.sha256(b"\x01" + left + right).digest()


# ---------------------------------------------------------------- the check


def whole(value: Any, low: int = 0, high: int = LARGEST) -> bool:
    """Whether `value` is a whole number within bounds (true and false are not)."""
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def text_of(value: Any, pattern: re.Pattern[str], may_be_empty: bool = False) -> bool:
    """Whether `value` is text of that pattern."""
    return isinstance(value, str) and (bool(pattern.fullmatch(value)) or (may_be_empty and value == ""))


def event_fault(event: Any) -> str | None:
    """What is wrong with the fields of an event, or None."""
    if not isinstance(event, dict) or sorted(event) != FIELDS:
        return "its fields are not those of an event"
    try:
        check_json(event["body"])
    except (ValueError, TypeError) as error:
        return f"body: {error}"
    checks = {
        "v": whole(event["v"], 1, 1000),
        "kind": text_of(event["kind"], KIND),
        "subject": text_of(event["subject"], ID),
        "site": text_of(event["site"], ID, True),
        "day": text_of(event["day"], DAY, True) and is_date(event["day"]),
        "body": isinstance(event["body"], dict),
        "utc_ms": whole(event["utc_ms"]),
        "offset_min": whole(event["offset_min"], -1440, 1440),
        "uncertainty_ms": whole(event["uncertainty_ms"]),
        "device": text_of(event["device"], ID),
        "n": whole(event["n"], 1),
        "prev": text_of(event["prev"], DIGEST, True) and (event["prev"] == "") == (event["n"] == 1),
        "after": isinstance(event["after"], list)
        and all(text_of(item, DIGEST) for item in event["after"])
        and event["after"] == sorted(set(event["after"])),
        "private": text_of(event["private"], DIGEST, True),
        "people": people_fit(event["people"]),
    }
    wrong = [name for name, fits in checks.items() if not fits]
    return f"field(s) {', '.join(wrong)} do not fit" if wrong else None


def belongs_to_office(event: dict[str, Any]) -> bool:
    """Whether only a device of the office may sign the event: by its kind, or by what it corrects."""
    kinds = (event["kind"], str(event["body"].get("of_kind", "")))
    return any(kind.partition(".")[0] in OFFICE_WORDS for kind in kinds)


def is_date(day: str) -> bool:
    """Whether `day` is empty or a date of the calendar."""
    try:
        return day == "" or bool(datetime.date.fromisoformat(day))
    except ValueError:
        return False


def people_fit(people: Any) -> bool:
    """Whether the people of an event are named as the format asks: ids, the author first and once."""
    if not isinstance(people, list) or not people:
        return False
    for place, person in enumerate(people):
        if not isinstance(person, dict) or sorted(person) != ["means", "part", "person"]:
            return False
        if not text_of(person["person"], ID) or person["means"] not in MEANS or person["part"] not in PARTS:
            return False
        if (person["part"] == "author") != (place == 0):
            return False
    return True


class Check:
    """One run over an exported record; `problems` are (place, code, words)."""

    def __init__(self, folder: pathlib.Path, fits: Fits) -> None:
        self.folder = folder
        self.fits = fits
        self.problems: list[tuple[int, str, str]] = []
        self.remarks: list[str] = []
        # place, id, fields, bytes, signature
        self.events: list[tuple[int, str, dict[str, Any], bytes, bytes]] = []
        self.ids: list[str] = []
        self.header_fields: dict[str, Any] = {}
        self.record_id = b""
        self.certified: dict[str, list[dict[str, Any]]] = {}
        self.last_n: dict[str, int] = {}
        self.head: dict[str, Any] = {}

    def say(self, code: str, words: str, seq: int = 0) -> None:
        """Note a problem."""
        self.problems.append((seq, code, words))

    def header(self, office_key: str | None) -> None:
        """Read header.json; the record id is the digest of its canonical bytes."""
        data = (self.folder / "header.json").read_bytes().rstrip(b"\n")
        header = parse(data)
        if not isinstance(header, dict) or canonical(header) != data:
            self.say("header", "header.json was changed: it is not in canonical form")
        if header.get("v") != 1 or not text_of(header.get("office_key"), DIGEST):
            raise ValueError("header.json is not the header of a record of version 1")
        if office_key and header["office_key"] != office_key.lower():
            self.say("header", f"header.json names another office key: {header['office_key']}")
        self.header_fields = header
        self.record_id = hashlib.sha256(data).digest()

    def lines(self) -> None:
        """Read events.jsonl: ids, canonical form, place, arrival links, doubles."""
        previous, place = "0" * 64, 0
        first_seen: dict[str, int] = {}
        data = (self.folder / "events.jsonl").read_bytes()
        for raw in data.split(b"\n")[:-1] if data.endswith(b"\n") else data.split(b"\n"):
            place += 1
            try:
                line = parse(raw)
                if sorted(line) != ["arrival", "event", "id", "seq", "signature"]:
                    raise ValueError("its fields are not those of a line")
                if canonical(line) != raw:
                    raise ValueError("it is not in canonical form")
                data_bytes, signature = line["event"].encode("utf-8"), bytes.fromhex(line["signature"])
                event_id, link = line["id"], line["arrival"]
                if (
                    not text_of(event_id, DIGEST)
                    or not text_of(link, DIGEST)
                    or line["signature"] != signature.hex()
                ):
                    raise ValueError("id, arrival and signature must be hexadecimal")
            except (ValueError, TypeError, AttributeError) as error:
                self.say("not_an_event", f"line {place} was changed: {error}", place)
                continue
            self.ids.append(event_id)
            if line["seq"] != place:
                self.say(
                    "order",
                    f"event {event_id[:12]} on line {place} says that it is number {line['seq']}",
                    place,
                )
            if link != hashlib.sha256(bytes.fromhex(previous) + bytes.fromhex(event_id)).hexdigest():
                self.say(
                    "order",
                    f"event {event_id[:12]} on line {place} did not arrive after the line before it",
                    place,
                )
            previous = link
            if event_id in first_seen:
                self.say(
                    "doubled",
                    f"event {event_id[:12]} stands on lines {first_seen[event_id]} and {place}",
                    place,
                )
                continue
            first_seen[event_id] = place
            self.one(place, event_id, data_bytes, signature)

    def one(self, place: int, event_id: str, data: bytes, signature: bytes) -> None:
        """Read one event from its bytes."""
        if len(data) > LARGEST_EVENT_BYTES:
            self.say(
                "not_an_event", f"event {event_id[:12]} on line {place} is longer than an event may be", place
            )
            return
        try:
            event = parse(data)
            fault = event_fault(event)
            if fault is None and canonical(event) != data:
                fault = "it is not in canonical form"
        except (ValueError, TypeError) as error:
            fault, event = str(error), {}
        found = hashlib.sha256(data).hexdigest()
        if fault is not None:
            self.say("not_an_event", f"event {event_id[:12]} on line {place} was changed: {fault}", place)
        elif found != event_id:
            words = f"event {event_id[:12]} on line {place} was changed: its bytes have the id {found[:12]}"
            self.say("id", f"{words} ({event['device']}, its event {event['n']})", place)
        else:
            self.events.append((place, event_id, event, data, signature))

    def certificates(self) -> None:
        """Take certificates and revocations that the office key signed."""
        office = bytes.fromhex(self.header_fields["office_key"])
        for place, event_id, event, _, _ in sorted(self.events, key=lambda item: item[1]):
            kind, body, device = event["kind"], event["body"], event["subject"]
            if event["v"] != 1 or kind not in ("key.device_certified", "key.revoked"):
                continue
            statement = {k: v for k, v in body.items() if k != "office_signature"}
            message = (
                OFFICE_CONTEXT + self.record_id + canonical({**statement, "device": device, "kind": kind})
            )
            try:
                genuine = self.fits(office, bytes.fromhex(body["office_signature"]), message)
                shaped = self.shaped(kind, body)
            except (KeyError, ValueError, TypeError):
                genuine = shaped = False
            if not genuine or not shaped:
                words = f"event {event_id[:12]}: the office key did not sign this {kind} of {device}"
                self.say("certificate", words, place)
            elif kind == "key.revoked":
                self.last_n[device] = min(body["last_n"], self.last_n.get(device, body["last_n"]))
            elif body["practice"] is not self.header_fields["practice"]:
                words = f"the certificate of {device} is for the other of practice and real"
                self.say("practice", f"event {event_id[:12]}: {words}", place)
            else:
                held = self.certified.setdefault(device, [])
                if held and held[0]["public_key"] != body["public_key"]:
                    self.say("two_keys", f"event {event_id[:12]}: {device} is certified with two keys", place)
                held.append(body)

    @staticmethod
    def shaped(kind: str, body: dict[str, Any]) -> bool:
        """Whether the body of a ``key.*`` event has its fields."""
        if kind == "key.revoked":
            return sorted(body) == ["last_n", "office_signature"] and whole(body["last_n"])
        names = [
            "office_signature",
            "practice",
            "public_key",
            "scope",
            "valid_from_utc_ms",
            "valid_to_utc_ms",
        ]
        return (
            sorted(body) == names
            and text_of(body["public_key"], DIGEST)
            and text_of(body["scope"], ID)
            and whole(body["valid_from_utc_ms"])
            and whole(body["valid_to_utc_ms"])
            and isinstance(body["practice"], bool)
        )

    def signatures(self) -> None:
        """Check each event's signature, and that its device might sign it then and there."""
        for place, event_id, event, data, signature in self.events:
            short, device, n = event_id[:12], event["device"], event["n"]
            held = self.certified.get(device, [])
            if not held:
                self.say(
                    "unknown_device", f"event {short}: {device} has no certificate of this office", place
                )
                continue
            message = EVENT_CONTEXT + self.record_id + data
            keys = dict.fromkeys(body["public_key"] for body in held)
            signer = next((k for k in keys if self.fits(bytes.fromhex(k), signature, message)), None)
            if signer is None:
                self.say(
                    "signature",
                    f"event {short}: the signature is not that of {device} (its event {n})",
                    place,
                )
                continue
            slack = min(event["uncertainty_ms"], LARGEST_SLACK_MS)
            timely = [
                body
                for body in held
                if body["public_key"] == signer
                and body["valid_from_utc_ms"] - slack <= event["utc_ms"] <= body["valid_to_utc_ms"] + slack
            ]
            if not timely:
                self.say(
                    "out_of_time",
                    f"event {short}: {device} was not certified at the time of its event {n}",
                    place,
                )
            elif not any(body["scope"] in ("office", event["site"]) for body in timely):
                self.say(
                    "out_of_scope",
                    f"event {short}: {device} is not certified for {event['site'] or 'the county'}",
                    place,
                )
            elif belongs_to_office(event) and all(body["scope"] != "office" for body in timely):
                words = f"{event['kind']} belongs to the office, {device} is certified for a site"
                self.say("office_only", f"event {short}: {words}", place)
            elif n > self.last_n.get(device, n):
                self.say(
                    "revoked",
                    f"event {short}: {device} was revoked after its event {self.last_n[device]}, this is {n}",
                    place,
                )

    def chains(self) -> None:
        """Name gaps, forks and broken links of each device's chain."""
        chains: dict[str, dict[int, list[tuple[str, dict[str, Any], int]]]] = {}
        for place, event_id, event, _, _ in self.events:
            chains.setdefault(event["device"], {}).setdefault(event["n"], []).append((event_id, event, place))
        for device, chain in sorted(chains.items()):
            expected = 1
            for n in sorted(chain):
                here = sorted(chain[n], key=lambda item: item[0])
                if n > expected:
                    words = f"event(s) {expected} to {n - 1} are not here (before event {here[0][0][:12]})"
                    self.say("gap", f"{device}: {words}", here[0][2])
                if len(here) > 1:
                    words = ", ".join(event_id[:12] for event_id, _, _ in here)
                    self.say("fork", f"{device}: {len(here)} events have the counter {n}: {words}")
                before = {event_id for event_id, _, _ in chain.get(n - 1, [])}
                for event_id, event, place in here:
                    if n > 1 and before and event["prev"] not in before:
                        words = f"event {event_id[:12]}: {device} says that it follows {event['prev'][:12]}"
                        self.say("broken_chain", f"{words}, which is not its event {n - 1}", place)
                expected = n + 1

    def sides(self, redacted: Sequence[str]) -> None:
        """Check each private part that is here against the digest that was signed."""
        wanted: dict[str, tuple[str, int]] = {
            event["private"]: (event_id, place) for place, event_id, event, _, _ in self.events
        }
        folder = self.folder / "side"
        found = sorted(folder.iterdir()) if folder.is_dir() else []
        for path in found:
            event_id, place = wanted.get(path.stem, ("", 0))
            if not event_id or path.suffix != ".json":
                self.say("private", f"side/{path.name} belongs to no event of this record")
                continue
            data = path.read_bytes()
            data = data[:-1] if data.endswith(b"\n") else data
            if hashlib.sha256(data).hexdigest() != path.stem:
                self.say(
                    "private",
                    f"side/{path.name} was changed: it is not what event {event_id[:12]} was signed with",
                    place,
                )
        here = {path.stem for path in found}
        for digest in redacted:
            if digest in here:
                self.say("head", f"head.json says that {digest[:12]} was redacted, which does not fit")
            elif digest not in wanted:
                self.say("private", f"redacted private part {digest[:12]} belongs to no event of this record")
        said = {
            str(event["body"].get("digest")): event_id
            for _, event_id, event, _, _ in self.events
            if event["kind"] == "side.redacted"
        }
        for digest in sorted(set(wanted) - here - {""}):
            words = f"private part {digest[:12]} of event {wanted[digest][0][:12]}"
            if digest in said:
                self.remarks.append(f"{words} was redacted, as event {said[digest][:12]} says")
            elif digest in redacted:
                self.remarks.append(f"{words} was redacted, and no event says so")
            else:
                self.remarks.append(f"{words} is kept elsewhere")

    def heads(self, heads: list[tuple[str, dict[str, Any]]]) -> None:
        """Compare heads: that of the export, and those noted before."""
        leaves = [bytes.fromhex(event_id) for event_id in self.ids]
        for name, head in heads:
            size: int = head.get("size", -1)
            if not whole(size):
                self.say("head", f"{name} does not say how many events there are")
            elif size > len(leaves):
                self.say("head", f"{name} counts {size} events, {len(leaves)} are here")
            else:
                part = leaves[:size]
                if head.get("log_root") and merkle_root(part).hex() != head["log_root"]:
                    self.say("head", f"the first {size} events are not those of {name} (log root)")
                if (
                    head.get("root")
                    and size == len(leaves)
                    and merkle_root(sorted(part)).hex() != head["root"]
                ):
                    self.say("head", f"the {size} events are not those of {name} (root)")
        self.head = {
            "size": len(leaves),
            "root": merkle_root(sorted(leaves)).hex(),
            "log_root": merkle_root(leaves).hex(),
        }


def check(
    folder: pathlib.Path,
    fits: Fits,
    earlier: dict[str, Any] | None = None,
    office_key: str | None = None,
) -> Check:
    """Check the record in `folder`; returns the `Check` with its problems, remarks and head."""
    run = Check(folder, fits)
    run.header(office_key)
    run.lines()
    run.certificates()
    run.signatures()
    run.chains()
    data = (run.folder / "head.json").read_bytes().rstrip(b"\n")
    own = parse(data)
    if not isinstance(own, dict) or own.get("layout") != LAYOUT:
        raise ValueError(f"head.json is not that of a record laid out as {LAYOUT}")
    redacted = own.get("redacted")
    if sorted(own) != HEAD_FIELDS or canonical(own) != data or not isinstance(redacted, list):
        run.say("head", "head.json was changed: it is not as it was written")
    if own.get("record") != run.record_id.hex():
        run.say("header", "head.json is that of a record with another header")
    if own.get("size") != len(run.ids):
        run.say("head", f"head.json counts {own.get('size')} events, {len(run.ids)} are here")
    run.sides([str(digest) for digest in redacted or []])
    run.heads([("head.json", own)] + ([("the earlier head", earlier)] if earlier else []))
    run.problems.sort(key=lambda item: (item[0] == 0, item[0]))
    return run


def main(arguments: list[str] | None = None) -> int:
    """Read the command line, check, print; the exit code."""
    parser = argparse.ArgumentParser(description="Check an exported Pollstead record.")
    parser.add_argument("folder", type=pathlib.Path, help="the folder that was exported")
    parser.add_argument("--head", type=pathlib.Path, help="a head.json that was noted earlier")
    parser.add_argument("--office-key", help="the office's public key as published, in hexadecimal")
    parser.add_argument("--pure", action="store_true", help="check signatures in plain Python")
    options = parser.parse_args(arguments)
    fits = None if options.pure else ed25519_by_library()
    try:
        earlier = parse(options.head.read_bytes()) if options.head else None
        run = check(options.folder, fits or ed25519_fits_pure, earlier, options.office_key)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        print(f"cannot be read: {error}", file=sys.stderr)
        return 2
    for _, code, words in run.problems:
        print(f"{code}: {words}")
    for words in run.remarks:
        print(f"note: {words}")
    print(f"{run.head['size']} events, root {run.head['root']}, log root {run.head['log_root']}")
    if run.problems:
        print(f"The record does not check: {len(run.problems)} problem(s).")
        return 1
    print("The record checks. This shows that nothing changed since it was signed, not that it was so.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
