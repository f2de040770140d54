"""The square code of a sheet: its serial as QR, as an SVG picture with its quiet zone."""

from __future__ import annotations

import io

QUIET_ZONE_MODULES = 4
"""ISO/IEC 18004 asks for a quiet zone of four modules around a QR code."""


def qr_svg(serial: str) -> str:
    """The QR code of `serial` as SVG, error correction Q, one unit a module, quiet zone included."""
    import segno

    code = segno.make(serial, error="q", micro=False, boost_error=False)
    out = io.BytesIO()
    code.save(
        out,
        kind="svg",
        border=QUIET_ZONE_MODULES,
        xmldecl=False,
        svgns=True,
        nl=False,
        dark="#000",
        light="#fff",
        omitsize=False,
        unit="",
    )
    return out.getvalue().decode("ascii")
