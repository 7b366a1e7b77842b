"""The command that listens to a microphone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from logger.options import State, job_name, library_folder, model_name, spoken
from logger.printing import say

if TYPE_CHECKING:
    from extract.record import Language


@click.command()
@job_name
@click.option("--microphone", metavar="NAME", help="A part of its name; the machine's default if left out.")
@model_name
@spoken
@click.pass_obj
def listen(state: State, job: str, microphone: str | None, model: str | None, language: Language | None) -> None:
    """Listen to this laptop's microphone all day: talk, and read what was heard; Ctrl-C ends it."""
    from logger import listen as session
    from logger.page.hearing_worker import HearingWorker

    folder = library_folder(state)
    if not session.listen(folder, job, microphone, HearingWorker.of(folder, model, language), say):
        raise click.exceptions.Exit(1)
