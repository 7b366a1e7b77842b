"""A failed check that the firm answers with a sentence: one more entry in the log, that `ask --undo` takes back."""

from __future__ import annotations

from extract.additions import of_a_thing
from extract.answers import label_said
from extract.check.accepted import bare
from extract.errors import UsageError
from extract.record import Finding
from logger.book import Book
from logger.changes import Done, addition_of, log_change
from logger.clean import written
from logger.store import Store
from reports import words


def accept(store: Store, name: str, what: str, answer: str) -> Done:
    """Log that a failed check was accepted, with the finding as it read. `what` is what it is about, `R-1`; where that
    fails several checks, the check too, `R-1 min slope`.

    Raises UsageError where no such check fails, or several do, or nothing is said to it.
    """
    book = Book(store, name)
    text = written("the answer", answer)
    if not any(each.isalnum() for each in text):
        raise UsageError("say why it is accepted, in a sentence")
    finding = _failed(book, what)
    label = finding.subject.split(" ")[0]
    value = {"finding": finding.check, "about": finding.subject, "text": text, "message": bare(finding.message)}
    subject = label if of_a_thing(label) and book.record.subject(label) else "acceptances"
    amendment, done = addition_of(book, "acceptances", (subject, value))
    log_change(book, "amendment", amendment)
    return done


def _failed(book: Book, what: str) -> Finding:
    failed = [each for each in book.findings if each.outcome == "fail"]
    names = (_words(" ".join(what.split())), _plain(book, what))
    found = [each for each in failed if {_name(each).lower(), _words(each.subject)} & set(names)]
    if len(found) == 1:
        return found[0]
    told = ", ".join(f'"{_name(each)}" ({words.plain("check", each.check)})' for each in found or failed)
    if found:
        raise UsageError(f"{what} fails {len(found)} checks; say which: {told}")
    label = what.split(" ")[0].upper()
    if of_a_thing(label) and not book.record.subject(label):
        raise UsageError(f"there is no {label} in {book.job.name}; checks that fail: {told or 'none'}")
    raise UsageError(f"no check of {what} fails in {book.job.name}; those that fail: {told or 'none'}")


def _name(finding: Finding) -> str:
    return f"{finding.subject} {finding.check}".replace("_", " ")


def _words(text: str) -> str:
    return text.lower().replace("_", " ")


def _plain(book: Book, what: str) -> str:
    """The words with a thing's plain name at their head as its label: `run one min slope` is `r-1 min slope`."""
    parts = what.split()
    for count in range(len(parts), 0, -1):
        if label := label_said(book.record, " ".join(parts[:count])):
            return _words(" ".join([label, *parts[count:]]))
    return _words(what)
