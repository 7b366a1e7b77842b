"""Close-out: what still stands in the way of the report, then the report."""

from __future__ import annotations

import tempfile
from pathlib import Path

from platformdirs import user_cache_path
from starlette.requests import Request
from starlette.responses import Response

from logger import jobs
from logger.ask import open_questions
from logger.match import NO_PART
from logger.page.questions import failed, worded
from logger.page.record import ONE_DRAWS, drawings_of
from logger.page.render import page
from logger.page.requests import Form, book, library, view
from logger.wording import LANGUAGES
from reports.closeout import READERS, Reader
from reports.settled import unsettled
from reports.words import things

WORD = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"


def show(request: Request, form: Form) -> Response:
    """What is open, and the way to the report, in the language that the firm's clients read and in the other."""
    with book(request) as made:
        other = next(each for each in LANGUAGES if each != made.job.company.language)
        return page(
            request, "closeout.html", job=made.job, labels=[each.label for each in things(made.record)], sounds={},
            asked=[(each.id, worded(request, each)[0]) for each in open_questions(made)], failed=failed(made),
            accepted=[(each.about, each.finding.replace("_", " "), each.text) for each in made.record.acceptances],
            unplaced=[each for each in made.photos if each.about is None and each.reason != NO_PART],
            unheard=made.unheard, problems=made.problems, drawings=drawings_of(made),
            unsettled=len(unsettled(made.bare(jobs.today()))), other=other,
        )  # fmt: skip


def report(request: Request, form: Form) -> Response:
    """The report for one reader as it stands now; a draft of it where something is not settled."""
    reader: Reader = next((each for each in READERS if each == request.query_params.get("for")), "client")
    wanted = next((each for each in LANGUAGES if each == request.query_params.get("language")), None)
    with library(request) as store:
        name = store.job(request.path_params["job"]).name
        cache = user_cache_path("fallbook", ensure_exists=True)
        with ONE_DRAWS, tempfile.TemporaryDirectory(prefix="report-", dir=cache) as folder:
            paper = "report" if reader == "client" else reader
            path = Path(folder) / f"{name}-{paper}{f'-{wanted}' if wanted else ''}.docx"
            jobs.report(store, name, path, reader=reader, draft=True, language=wanted)
            content = path.read_bytes()
    headers = {"Content-Disposition": f'attachment; filename="{path.name}"'}
    return Response(content, media_type=WORD, headers=headers)


ROUTES = [
    ("GET", "/jobs/{job}/closeout", view(show), "closeout"),
    ("GET", "/jobs/{job}/report.docx", view(report), "report"),
]
