"""The command that serves the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import click

from extract.errors import UsageError
from logger.options import State, library, library_folder, model_name, spoken
from logger.printing import say

if TYPE_CHECKING:
    from extract.record import Language


@click.command()
@click.argument("job", metavar="[JOB]", required=False, help="The job that the page opens with.")
@click.option(
    "--port", type=click.IntRange(0, 65535), metavar="N", help="8440 if left out, or without --lan any that is free."
)
@click.option("--lan", is_flag=True, help="Let phones in the same network join, over HTTPS.")
@click.option("--lan-http", is_flag=True, help="The same over plain HTTP, which anyone in the network can read.")
@model_name
@spoken
@click.pass_obj
def serve(
    state: State,
    job: str | None,
    port: int | None,
    lan: bool,
    lan_http: bool,
    model: str | None,
    language: Language | None,
) -> None:
    """Serve the page for this laptop's browser, and with --lan for phones in the same network."""
    from logger.page import terminal
    from logger.page.hearing_worker import HearingWorker
    from logger.page.server import Server

    if lan and lan_http:
        raise UsageError("--lan and --lan-http are two ways to do the same; give one of them")
    way: Literal["https", "http"] | None = "https" if lan else "http" if lan_http else None
    with library(state) as store:
        if job:
            store.job_row(job)
    hearing_worker = HearingWorker.of(library_folder(state), model, language)
    server = Server(library_folder(state), port, job=job, lan=way, debug=state.debug, hearing_worker=hearing_worker)
    say(server.address())
    if server.outside:
        address = server.outside.link(server.access.token(), job)
        say(address)
        for line in terminal.code(address):
            click.secho(line, fg="bright_white", bg="black", err=True)
    for line in terminal.lines(server.outside):
        say(line, err=True)
    hearing_worker.start()
    server.run()
