"""Notes typed into the job of the `store` fixture."""

from logger import jobs


def say(store, *notes: str) -> None:
    """Each note with its time before it, as in `10:00 Basin one is set.`"""
    for note in notes:
        at, text = note.split(" ", 1)
        jobs.say(store, "j", text, at)
