"""The command that serves the page."""

from __future__ import annotations

import click

from logger.options import State, library, library_folder
from logger.printing import say


@click.command()
@click.argument("job", metavar="[JOB]", required=False, help="The job that the page opens with.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="A free one if left out.")
@click.pass_obj
def serve(state: State, job: str | None, port: int) -> None:
    """Serve the page: questions, the day, the record, for this laptop's browser."""
    from logger.page.server import Server

    with library(state) as store:
        if job:
            store.job_row(job)
    server = Server(library_folder(state), port)
    say(server.address(job))
    server.run()
