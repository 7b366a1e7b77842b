"""Tokens are good once and for a quarter of an hour; sessions end, and can be ended."""

import pytest

from logger.page.access import MOST_SESSIONS, SESSION_S, TOKEN_S, Access


class Clock:
    def __init__(self):
        self.now = 1_000_000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def access(clock):
    return Access(clock)


def test_a_token_lets_one_browser_in_once(access):
    token = access.token()
    secret = access.enter(token, "Ida's phone")
    assert access.session(secret).name == "Ida's phone"
    assert access.enter(token, "another") is None


def test_a_token_that_is_too_old_lets_nobody_in(access, clock):
    token = access.token()
    clock.now += TOKEN_S
    assert not access.waits(token)
    assert access.enter(token, "late") is None


@pytest.mark.parametrize("token", ["", "guess", "a" * 10_000, "\0"])
def test_what_was_never_made_lets_nobody_in(access, token):
    access.token()
    assert not access.waits(token)
    assert access.enter(token, "x") is None
    assert access.session(token) is None
    assert access.session(None) is None


def test_a_session_ends_by_itself(access, clock):
    secret = access.enter(access.token(), "x")
    clock.now += SESSION_S
    assert access.session(secret) is None
    assert access.sessions() == []


def test_a_session_can_be_withdrawn_and_others_stay(access):
    one, other = (access.enter(access.token(), name) for name in ("one", "other"))
    assert access.withdraw(access.session(one).id)
    assert access.session(one) is None
    assert access.session(other).name == "other"
    assert not access.withdraw("nobody")


def test_all_tokens_can_be_withdrawn(access):
    token = access.token()
    access.withdraw_tokens()
    assert access.enter(token, "x") is None


def test_there_is_an_end_to_sessions(access):
    assert all(access.enter(access.token(), str(n)) for n in range(MOST_SESSIONS))
    assert access.enter(access.token(), "one more") is None
