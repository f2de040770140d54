"""Read what a form with files sends (RFC 7578) straight into memory.

The server library's own reading moves a file of more than a megabyte into a temporary file on the disk.
Files that people send here hold names, phones, or times at which people checked in: none of them may
land there.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, Final

from litestar.exceptions import ClientException
from multipart import MultipartSegment, ParserError, PushMultipartParser, parse_options_header

from pollstead.election.values import Value
from pollstead.show.web.forms import LONGEST_FIELD, BadForm, clean
from pollstead.show.web.uploads import LARGEST_REQUEST_BYTES, Upload

if TYPE_CHECKING:
    from litestar import Request

MULTIPART: Final = "multipart/form-data"
MOST_PARTS: Final = 200
LONGEST_NAME: Final = 120


class Sent(Value, frozen=True):
    """The fields and the files of a form; a file that nobody chose is not there."""

    pairs: tuple[tuple[str, str], ...]
    files: tuple[Upload, ...]

    @property
    def fields(self) -> dict[str, str]:
        """The fields by name."""
        return dict(self.pairs)

    def text(self, name: str) -> str:
        """The field's text, or empty when the form has no such field."""
        return self.fields.get(name, "")

    @property
    def file(self) -> Upload:
        """The first file; one without name and bytes where none was chosen."""
        return self.files[0] if self.files else Upload("", b"")


async def read_sent(request: Request[Any, Any, Any]) -> Sent:
    """The form of a request; raises ClientException (400) for a body that no form of ours sends."""
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    boundary = options.get("boundary", "")
    if kind != MULTIPART or not boundary:
        raise ClientException(f"a form with a file must be sent as {MULTIPART}")
    try:
        return await read_parts(request.stream(), boundary)
    except (ParserError, BadForm, UnicodeDecodeError) as error:
        raise ClientException(f"the form could not be read: {error}") from error


async def read_parts(stream: AsyncIterator[bytes], boundary: str) -> Sent:
    """The parts of a body. Raises ParserError, BadForm for a field sent twice, UnicodeDecodeError."""
    fields: dict[str, str] = {}
    files: list[Upload] = []
    part: MultipartSegment | None = None
    held = bytearray()
    came = 0
    with PushMultipartParser(boundary, max_segment_count=MOST_PARTS) as parser:
        async for chunk in stream:
            came += len(chunk)
            if came > LARGEST_REQUEST_BYTES:
                raise BadForm(f"a form with files must be at most {LARGEST_REQUEST_BYTES:,} bytes")
            for piece in parser.parse(chunk):
                if isinstance(piece, MultipartSegment):
                    part, held = piece, bytearray()
                elif piece:
                    held += piece
                elif part is not None:
                    _take(part, bytes(held), fields, files)
                    part, held = None, bytearray()
            if parser.closed:
                break
    return Sent(tuple(fields.items()), tuple(files))


def _take(part: MultipartSegment, data: bytes, fields: dict[str, str], files: list[Upload]) -> None:
    if part.filename is not None:
        name = PureWindowsPath(PurePosixPath(part.filename).name).name[:LONGEST_NAME]
        if name or data:
            files.append(Upload(name, data))
        return
    if part.name in fields:
        raise BadForm(f"each field must come once, found {part.name[:60]!r} twice")
    if len(data) > LONGEST_FIELD * 4:
        raise BadForm(f"{part.name[:60]} must be at most {LONGEST_FIELD:,} characters")
    fields[part.name] = clean(part.name, data.decode("utf-8"))
