from logger.printing import reading_told


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_how_many_notes_are_read_is_told_every_few_seconds(capsys):
    clock = Clock()
    tell = reading_told(clock)
    for done, at in ((1, 60.1), (160, 62.9), (170, 63.2), (200, 64.0), (340, 66.3)):
        clock.now = at
        tell(done, 8000)
    assert capsys.readouterr().err.splitlines() == ["reading notes: 170 of 8000", "reading notes: 340 of 8000"]
    for done, at in ((1, 90.0), (30, 92.0), (60, 93.1)):  # another job
        clock.now = at
        tell(done, 68)
    assert capsys.readouterr().err.splitlines() == ["reading notes: 60 of 68"]
