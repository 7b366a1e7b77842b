"""Tokens are good once and for ten minutes; sessions end, and can be ended."""

import pytest

from logger.page.access import (
    MOST_ADDRESSES,
    MOST_SESSIONS,
    MOST_TOKENS,
    SESSION_S,
    SHUT_OUT_S,
    TOKEN_S,
    WRONG_MOST,
    Access,
)


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


def test_a_token_is_not_used_up_where_there_is_no_room(access):
    first = [access.session(access.enter(access.token(), str(n))) for n in range(MOST_SESSIONS)][0]
    token = access.token()
    assert access.full()
    assert access.enter(token, "one more") is None
    access.withdraw(first.id)
    assert not access.full()
    assert access.enter(token, "one more")


def test_tokens_that_wait_are_few_and_the_oldest_goes(access):
    tokens = [access.token() for _ in range(MOST_TOKENS + 1)]
    assert [access.waits(each) for each in tokens] == [False] + [True] * MOST_TOKENS
    assert len(access.waiting()) == MOST_TOKENS


def test_tokens_that_wait_tell_when_they_end(access, clock):
    access.token()
    clock.now += 60
    access.token()
    assert access.waiting() == [clock.now + TOKEN_S - 60, clock.now + TOKEN_S]
    clock.now += TOKEN_S - 60
    assert access.waiting() == [clock.now + 60]


def test_an_address_that_is_often_wrong_is_shut_out_for_a_while(access, clock):
    for _ in range(WRONG_MOST):
        assert not access.shut_out("10.0.0.7")
        access.wrong("10.0.0.7")
    assert access.shut_out("10.0.0.7")
    assert not access.shut_out("10.0.0.8")
    clock.now += SHUT_OUT_S
    assert not access.shut_out("10.0.0.7")
    access.wrong("10.0.0.7")
    assert not access.shut_out("10.0.0.7")


def test_a_wrong_link_now_and_then_shuts_nobody_out(access, clock):
    for _ in range(WRONG_MOST * 3):
        access.wrong("10.0.0.7")
        clock.now += SHUT_OUT_S / 5
    assert not access.shut_out("10.0.0.7")


def test_addresses_that_were_wrong_are_forgotten_when_they_are_many(access):
    for n in range(MOST_ADDRESSES + 5):
        access.wrong(f"address {n}")
    assert len(access._wrong) == MOST_ADDRESSES


def test_what_happened_at_the_door_is_told_and_no_secret_with_it(clock):
    told = []
    access = Access(clock, told.append)
    token = access.token()
    secret = access.enter(token, "Ida's phone", "10.0.0.7")
    access.withdraw(access.session(secret).id)
    for _ in range(WRONG_MOST + 3):
        access.wrong("10.0.0.8")
    access.withdraw_tokens()
    assert told == [
        "let in: Ida's phone, from 10.0.0.7",
        "put out: Ida's phone",
        "shut out for 60 s after 10 links that let nobody in: 10.0.0.8",
        "links withdrawn",
    ]
    assert not any(each in line for line in told for each in (token, secret))
