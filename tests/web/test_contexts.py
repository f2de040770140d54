"""Each page renders one declared value, and the template asks for exactly what the value has."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import jinja2.meta
import jinja2.nodes
import pytest

import pollstead.show.web.pages as pages
from pollstead.show.web.pages.frame import Page
from pollstead.show.web.wording import environment
from pollstead.show.words import ENGLISH

TEMPLATES = Path(pages.__file__).parents[1] / "templates"

for found in pkgutil.iter_modules(pages.__path__):
    importlib.import_module(f"{pages.__name__}.{found.name}")
PAGES = sorted(Page.__subclasses__(), key=lambda page: page.__name__)
# Pieces that are included or imported with the page's own names.
PIECES = {
    "allocation.html": ("_allocation_job.html",),
    "canvass.html": ("_canvass.html",),
    "canvass_version.html": ("_canvass.html",),
    "jobs.html": ("_jobs_list.html",),
    "entry.html": ("_line.html", "_read_again.html"),
    "correct.html": ("_line.html", "_read_again.html"),
    "fact_changes.html": ("_fact_changes.html",),
    "scan_load.html": ("_boxes.html",),
    "scan_pack.html": ("_boxes.html",),
    "scan_test.html": ("_boxes.html",),
    "stock.html": ("_boxes.html", "_read_again.html"),
    "deck_report.html": ("_boxes.html",),
    "fixing.html": ("_boxes.html",),
    "receiving.html": ("_boxes.html", "_read_again.html"),
    "not_back.html": ("_boxes.html",),
    "paper_sheet.html": ("_line.html", "_read_again.html"),
    "incidents.html": ("_boxes.html",),
    "orders.html": ("_boxes.html",),
    "site_lines.html": ("_boxes.html",),
    "supplies.html": ("_boxes.html",),
    "phone.html": ("_boxes.html",),
    "heard.html": ("_heard_list.html",),
    "waits.html": ("_waits_list.html",),
    "waits_count.html": ("_boxes.html",),
    "fixed.html": ("_fixed_job.html",),
    "calendar.html": ("_done_fields.html",),
    "calendar_task.html": ("_done_fields.html",),
}


def names_in(template: str) -> set[str]:
    """The names that a template takes from its page, those of the frame left out."""
    made = environment(ENGLISH)
    source = (TEMPLATES / template).read_text(encoding="utf-8")
    tree = made.parse(source)
    # Imported pieces are known to a block at run time, though the parser calls them undeclared there.
    imported = {
        name if isinstance(name, str) else name[1]
        for found in tree.find_all(jinja2.nodes.FromImport)
        for name in found.names
    }
    imported |= {macro.name for macro in tree.find_all(jinja2.nodes.Macro)}
    assigned = {
        target.name
        for found in tree.find_all(jinja2.nodes.Assign)
        for target in found.find_all(jinja2.nodes.Name)
        if target.ctx == "store"
    }
    return jinja2.meta.find_undeclared_variables(tree) - set(made.globals) - imported - assigned


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_template_and_context_have_the_same_names(page: type[Page]) -> None:
    """A field that no template shows, and a name that no field gives, are both faults."""
    used = names_in("base.html") | names_in(page.template)
    for piece in PIECES.get(page.template, ()):
        used |= names_in(piece)
    assert used == set(page.__struct_fields__)


def test_each_page_has_a_template_of_its_own() -> None:
    """One template a page, and no template without its page."""
    templates = [page.template for page in PAGES]
    assert len(set(templates)) == len(templates)
    assert {p.name for p in TEMPLATES.glob("[!_]*.html")} == {*templates, "base.html"}


def test_a_missing_name_is_an_error_and_not_a_blank() -> None:
    """A template that asks for a name nobody gives fails, so that nothing is silently left out."""
    with pytest.raises(jinja2.UndefinedError):
        environment(ENGLISH).from_string("{{ never_given }}").render()


def test_what_people_typed_is_escaped() -> None:
    """Names, numbers and messages with markup in them are shown as text."""
    made = environment(ENGLISH)
    source = '{{ data(x) }}{{ code(x) }}{{ _("To {name}", name=x) }}{{ plain("To {name}", name=x) }}{{ x }}'
    shown = made.from_string(source).render(x='<script>"&')
    assert "<script>" not in shown and shown.count("&lt;script&gt;") == 5
