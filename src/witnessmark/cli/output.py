"""What a command prints: JSON, the lines of a document, or a sheet on paper of some size."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec.json

from witnessmark.cli.echo import echo, echo_json_text
from witnessmark.cli.types import Written
from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.files import write_new
from witnessmark.report.terminal import WIDTH, text_lines

if TYPE_CHECKING:
    from witnessmark.report.blocks import Block
    from witnessmark.report.page import Page, Paper


def _paper(where: str, text: str) -> Paper:
    """Return a size of paper by its name, in whatever case."""
    from witnessmark.report.page import Paper

    for paper in Paper:
        if text.casefold() == paper.casefold():
            return paper
    there = ", ".join(Paper)
    raise BadInput(f'{where}: "{printable(text, 40)}" is not one of {there}')


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON, mm and UTC.")
file_argument = click.argument(
    "file", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True)
)
paper_option = click.option(
    "--paper", type=Written("paper", _paper), default="A4", help="A4 or letter [A4]."
)
svg_option = click.option("--svg", "as_svg", is_flag=True, help="SVG, as in a FILE named .svg.")


def echo_json(value: object) -> None:
    """Print an object as JSON."""
    echo_json_text(msgspec.json.format(msgspec.json.encode(value)))


def echo_blocks(blocks: Iterable[Block], width: int = WIDTH) -> None:
    """Print a document in lines of at most ``width`` columns."""
    for line in text_lines(blocks, width):
        echo(line)


def write(file: Path, title: str, make: Callable[[], Sequence[Page]], *, as_svg: bool) -> None:
    """Write a sheet to new files: one of PDF, or one of SVG a page; - prints it.

    Args:
        file: where to. Of several pages of SVG each has its number before the ending.
        title: what the PDF is called.
        make: gives the pages, asked for only where they can be written.
        as_svg: SVG, whatever the file's ending.

    Raises:
        BadInput: when a file is there already or cannot be written, or several pages of SVG would
            have to be printed.
    """
    as_svg = as_svg or file.suffix.lower() == ".svg"
    _check(file, as_svg=as_svg)
    pages = make()
    contents = _svgs(file, pages) if as_svg else {file: _pdf(pages, title)}
    if str(file) == "-":
        _print(list(contents.values()))
        return
    for path in contents:
        _check(path, as_svg=as_svg)
    _write(contents)
    names = " ".join(click.format_filename(path) for path in contents)
    count = f"{len(pages)} page{'' if len(pages) == 1 else 's'}"
    echo(f"{count} written: {printable(names)}")


def _svgs(file: Path, pages: Sequence[Page]) -> dict[Path, bytes]:
    from witnessmark.report.svg import svg

    if len(pages) == 1:
        return {file: svg(pages[0]).encode()}
    return {
        file.with_name(f"{file.stem}-{number}{file.suffix}"): svg(page).encode()
        for number, page in enumerate(pages, 1)
    }


def _pdf(pages: Sequence[Page], title: str) -> bytes:
    from witnessmark.report.pdf import pdf

    return pdf(pages, title)


def _check(file: Path, *, as_svg: bool) -> None:
    if str(file) == "-":
        return
    shown = printable(str(file))
    if not as_svg and file.suffix.lower() != ".pdf":
        raise BadInput(f"{shown}: a sheet is PDF or SVG; name it .pdf or .svg")
    try:
        is_there = file.exists()
    except OSError as error:
        raise _cannot_be_made(file, error) from None
    if is_there:
        raise BadInput(f"{shown} is there already; name a new file")


def _cannot_be_made(file: Path, error: OSError) -> BadInput:
    reason = (error.strerror or str(error)).lower()
    return BadInput(f"{printable(str(file))}: {reason}; name a file that can be made")


def _print(contents: list[bytes]) -> None:
    if len(contents) > 1:
        raise BadInput(
            f"-: this sheet has {len(contents)} pages, and SVG is a file a page; name a file"
        )
    sys.stdout.buffer.write(contents[0])


def _write(contents: Mapping[Path, bytes]) -> None:
    try:
        write_new(contents)
    except OSError as error:
        raise _cannot_be_made(next(iter(contents)), error) from None
