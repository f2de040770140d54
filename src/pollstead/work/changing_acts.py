"""From an act to edits of the tables: swap a device, replace a person.

Nothing is written here. A refusal says what was expected, what was found and what to do next.
"""

from __future__ import annotations

from pollstead.election.county import Device, Person
from pollstead.election.instants import parse_hasty_clock
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit, add_row
from pollstead.reconcile.changed.candidates import StandsIn, candidates, standing_of
from pollstead.reconcile.changed.terms import Act, Change
from pollstead.work.changing_cells import cell_edit, plan_of, real_edits, shown
from pollstead.work.changing_terms import Asked, Drafted, Ground
from pollstead.work.county_folder import refuse

OUT_OF_SERVICE = "out of service"


def swap_device(ground: Ground, asked: Asked) -> Drafted:
    """`new` takes the place of `old`: the old one goes out of service, the new one is fixed to the site."""
    devices = {device.id: device for device in ground.election.devices}
    old, new = (_device(ground, name) for name in (asked.old, asked.new))
    place = _place_of(ground, old)
    chosen = next(
        (
            c
            for c in candidates(
                ground.election,
                plan_of(ground),
                old.id,
                contradicted=ground.contradicted,
                tested=ground.tested,
            )
            if c.device == new.id
        ),
        None,
    )
    if chosen is None:
        refuse(
            N_("{new} is a {kind}, {old} is a {wanted}: give a device of the same kind."),
            new=new.serial,
            kind=new.kind,
            old=old.serial,
            wanted=old.kind,
        )
    if chosen.blocked:
        refuse(
            N_("{new} cannot take the place: {why} Choose another device."),
            new=new.serial,
            why=" ".join(words.english() for words in chosen.blocked),
        )
    state = asked.text("state") or OUT_OF_SERVICE
    edits = [
        cell_edit(ground, "devices", old.id, "state", state),
        cell_edit(ground, "devices", new.id, "fixed", place.site),
        # A device is fixed to a site with a reason only; the one typed takes this word's place.
        cell_edit(ground, "devices", new.id, "reason", asked.text("reason") or "late swap"),
    ]
    if old.fixed:
        edits += [cell_edit(ground, "devices", old.id, name, "") for name in ("fixed", "reason")]
    if old.cart and any(d.cart == old.cart and d.id != old.id for d in devices.values()):
        # A case or cart that others travel in: the new device travels with them.
        edits.append(cell_edit(ground, "devices", new.id, "cart", old.cart))
    site = ground.election.site(place.site)
    return Drafted(
        change=Change(
            act=Act.SWAP_DEVICE,
            sites=tuple(dict.fromkeys(filter(None, (place.site, chosen.site)))),
            old_device=old.id,
            new_device=new.id,
            at_min=_at_min(asked.text("at")),
            words=message(
                N_("{site}: {kind} {old} is replaced by {new}."),
                site=site.name,
                kind=old.kind,
                old=shown(old),
                new=shown(new),
            ),
            site_words=message(
                N_("{site}: {kind} {old} is replaced by another one."),
                site=site.name,
                kind=old.kind,
                old=shown(old),
            ),
        ),
        edits=real_edits(edits),
        subject=old.id,
        warnings=chosen.warnings,
    )


def replace_person(ground: Ground, asked: Asked) -> Drafted:
    """`new` takes over what `old` holds: role and site, keys of buildings, being the contact of one."""
    people = {person.id: person for person in ground.election.people}
    old = _person(people, asked.old)
    edits: list[Edit | None] = []
    warnings: list[Message] = []
    party_warnings: list[Message] = []
    new = people.get(asked.new)
    if new is None:
        if not asked.text("name"):
            refuse(
                N_("{new} is in no row of the table people. Give a name with it, or the id of a person."),
                new=asked.new or "?",
            )
        new_id = asked.new or _free_id(ground)
        cells = {"id": new_id, "name": asked.text("name"), "phone": asked.text("phone"), "role": old.role}
        edits.append(add_row("people", {**cells, "site": old.site}))
        new_name = asked.text("name")
    else:
        new_id, new_name = new.id, new.name
        if new.id == old.id:
            refuse(N_("The new person must be another one than {name}."), name=old.name)
        if new.site and new.site != old.site:
            warnings.append(
                message(
                    N_("{name} is {role} at {site}, which is one person short then."),
                    name=new.name,
                    role=new.role,
                    site=new.site,
                )
            )
        edits.append(cell_edit(ground, "people", new.id, "site", old.site))
        if old.role and old.site:
            edits.append(cell_edit(ground, "people", new.id, "role", old.role))
        if new.party and old.party and new.party != old.party:
            party_warnings.append(
                message(
                    N_("{old} is of {was}, {new} of {now}: your county's rules say whether that may be."),
                    old=old.name,
                    was=old.party,
                    new=new.name,
                    now=new.party,
                )
            )
    if old.site:
        edits.append(cell_edit(ground, "people", old.id, "site", ""))
    held = [old.site] if old.site else []
    for site in ground.election.sites:
        if old.id in site.openers:
            openers = dict.fromkeys(new_id if opener == old.id else opener for opener in site.openers)
            edits.append(cell_edit(ground, "sites", site.id, "openers", " ".join(openers)))
            if ground.named("site_access", site.id):
                # Two openers were called before; the new one has not been.
                edits.append(cell_edit(ground, "site_access", site.id, "openers_confirmed", ""))
            held.append(site.id)
        if site.contact == old.id:
            edits.append(cell_edit(ground, "sites", site.id, "contact", new_id))
            if ground.named("site_access", site.id):
                edits.append(
                    cell_edit(ground, "site_access", site.id, "contact_since", ground.today.isoformat())
                )
            held.append(site.id)
    if not held:
        refuse(N_("{name} holds nothing here: no site, no key, no building."), name=old.name)
    said = message(N_("{old} is replaced by {new}."), old=old.name, new=new_name)
    return Drafted(
        change=Change(
            act=Act.REPLACE_PERSON,
            sites=tuple(dict.fromkeys(held)),
            old_person=old.id,
            new_person=new_id,
            words=said,
            site_words=said,
        ),
        edits=real_edits(edits),
        subject=f"person/{old.id.removeprefix('person/')}",
        warnings=tuple(warnings),
        party_warnings=tuple(party_warnings),
    )


def _at_min(text: str) -> int | None:
    """The minute at which a device was taken out while people voted; None before the doors open."""
    if not text:
        return None
    try:
        return parse_hasty_clock(text)
    except ValueError:
        refuse(N_("Type the time like 12:05, when the old device was taken out; found {text}."), text=text)


def _device(ground: Ground, name: str) -> Device:
    """The device that an id, serial or tag names."""
    found = [d for d in ground.election.devices if name and name in (d.id, d.serial, d.tag)]
    if len(found) != 1:
        refuse(
            N_("{name} names {count} devices. Give the id, the serial or the tag of one."),
            name=name or "?",
            count=len(found),
        )
    return found[0]


def _place_of(ground: Ground, old: Device) -> StandsIn:
    place = standing_of(plan_of(ground)).get(old.id)
    if place is None:
        refuse(N_("{device} stands at no site in the plan, so there is nothing to swap."), device=shown(old))
    return place


def _person(people: dict[str, Person], name: str) -> Person:
    found = people.get(name) or people.get(name.removeprefix("person/"))
    if found is None:
        refuse(N_("{name} is in no row of the table people. Give the id of a person."), name=name or "?")
    return found


def _free_id(ground: Ground) -> str:
    """The next free id of a person in the county's own pattern P and digits."""
    numbers = [int(p.id[1:]) for p in ground.election.people if p.id[:1] == "P" and p.id[1:].isdecimal()]
    return f"P{max(numbers, default=0) + 1:03d}"
