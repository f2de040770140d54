"""Every route of the app, page by page."""

from __future__ import annotations

from pollstead.show.web.pages import (
    copies,
    correct,
    county,
    entry,
    expected,
    help_page,
    jobs,
    ready,
    site,
    versions,
    whats_open,
    who_page,
)

ROUTES_OF_PAGES = (
    county.county,
    site.site,
    entry.opening_entry,
    entry.take_opening,
    entry.closing_entry,
    entry.take_closing,
    correct.entry,
    correct.correct_entry,
    expected.expected,
    expected.issue_expected,
    ready.ready,
    ready.day,
    whats_open.whats_open,
    whats_open.resolve_form,
    whats_open.resolve,
    versions.versions,
    versions.version,
    versions.approve,
    jobs.jobs,
    jobs.ask_for_job,
    jobs.cancel_job,
    copies.copies,
    copies.change_copies,
    copies.laptop,
    help_page.help_page,
    who_page.who,
    who_page.choose_who,
    who_page.choose_language,
)
