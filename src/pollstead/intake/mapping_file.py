"""``mapping.toml``: which column was taken for which, and what was left out, kept beside the tables."""

from __future__ import annotations

from pollstead.intake.builder import LeftOut
from pollstead.intake.mapping import Proposal, Where, is_of
from pollstead.intake.toml_values import toml_text


def mapping_text(
    proposals: tuple[Proposal, ...],
    wheres: tuple[Where, ...],
    same: tuple[tuple[str, str], ...],
    different: tuple[tuple[str, str], ...],
    left_out: tuple[LeftOut, ...],
) -> str:
    """The mapping as TOML. ``[[different]]`` keeps `pollstead check` from asking about a pair again."""
    lines = ["# How this folder was made from the county's own tables. It belongs to the county.", ""]
    for proposal in proposals:
        table = proposal.table
        lines += [
            "[[table]]",
            f"file = {toml_text(table.name)}",
            f"purpose = {toml_text(proposal.purpose)}",
            f"header_row = {table.header_row}",
            f"rows = {len(table.rows)}",
        ]
        for match in proposal.matches:
            lines += [
                "",
                "  [[table.column]]",
                f"  ours = {toml_text(match.ours)}",
                f"  theirs = {toml_text(match.theirs)}",
                f"  said_by_a_person = {str(match.given).lower()}",
            ]
        for where in wheres:
            if is_of(where.file, table):
                lines += [
                    "",
                    "  [[table.where]]",
                    f"  column = {toml_text(where.column)}",
                    f"  value = {toml_text(where.value)}",
                ]
        lines.append("")
    for key, pairs in (("same", same), ("different", different)):
        for a, b in pairs:
            lines += [f"[[{key}]]", f"a = {toml_text(a)}", f"b = {toml_text(b)}", ""]
    for left in left_out:
        lines += [
            "[[left_out]]",
            f"file = {toml_text(left.file)}",
            f"row = {left.row}",
            f"why = {toml_text(left.why)}",
            f"text = {toml_text(left.text)}",
            "",
        ]
    return "\n".join(lines)
