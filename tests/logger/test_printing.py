from logger.printing import reading_told


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_how_many_notes_are_read_is_told_every_few_seconds(capsys):
    clock = Clock()
    tell = reading_told(clock)
    for done, at in ((1, 0.1), (160, 2.9), (170, 3.1), (200, 4.0), (340, 6.2)):
        clock.now = at
        tell(done, 8000)
    assert capsys.readouterr().err.splitlines() == ["reading notes: 170 of 8000", "reading notes: 340 of 8000"]
