"""``witnessmark meters``: the meters that can be reached."""

from __future__ import annotations

import asyncio

import click
import msgspec

from witnessmark.meters.finding import discover_all


@click.command("meters")
@click.option("--json", "as_json", is_flag=True, help="Print one list of objects.")
def meters_command(as_json: bool) -> None:
    """List the meters, and the places where one may be, with the addresses to give to read."""
    found = asyncio.run(discover_all(tell=lambda words: click.echo(words, err=True)))
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(found)))
        return
    width = max((len(place.address) for place in found), default=0)
    for place in found:
        click.echo(f"{place.address:<{width}}  {place.words}")
