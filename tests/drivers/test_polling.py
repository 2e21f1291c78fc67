"""When something is written to a device, by a clock that the test turns."""

from __future__ import annotations

from drivers.polling import ANSWER_S, Polling, Repeated

ASK = Repeated(b"?\n", 0.5)
AWAKE = Repeated(b"!", 2.0)
REQUEST, KEEP_ALIVE = ("request", b"?\n"), ("keep-alive command", b"!")


def test_requests_keep_step_with_the_clock():
    polling = Polling(ASK, None, now_s=10.0)
    asked_s = []
    for tick in range(200):
        now_s = 10.0 + tick * 0.01
        if polling.due(now_s):
            asked_s.append(round(now_s, 2))
            polling.answered()
    assert asked_s == [10.0, 10.5, 11.0, 11.5]
    assert (polling.requests, polling.unanswered) == (4, 0)


def test_a_request_waits_for_the_answer_to_the_one_before():
    polling = Polling(ASK, None)
    assert polling.due(0.0) == [REQUEST]
    assert polling.due(0.6) == []
    polling.answered()
    assert polling.next_s == 0.5
    assert polling.due(0.6) == [REQUEST]


def test_a_device_that_does_not_answer_is_asked_again():
    polling = Polling(ASK, None)
    polling.due(0.0)
    assert polling.next_s == ANSWER_S
    assert polling.due(ANSWER_S) == [REQUEST]
    assert (polling.requests, polling.unanswered) == (2, 1)


def test_after_a_pause_requests_do_not_come_in_a_burst():
    polling = Polling(ASK, None)
    polling.due(0.0)
    polling.answered()
    assert polling.due(30.0) == [REQUEST]
    polling.answered()
    assert polling.due(30.4) == []
    assert polling.due(30.5) == [REQUEST]


def test_keeping_awake_waits_for_nobody():
    polling = Polling(ASK, AWAKE)
    assert polling.due(0.0) == [REQUEST]
    assert polling.next_s == ANSWER_S
    assert polling.due(2.0) == [KEEP_ALIVE, REQUEST]
    assert polling.due(2.5) == []


def test_a_new_link_begins_with_a_request():
    polling = Polling(ASK, AWAKE)
    polling.due(0.0)
    polling.begin(100.0)
    assert polling.due(100.0) == [REQUEST]
    assert polling.next_s == 101.0
    assert polling.unanswered == 0


def test_without_anything_to_write_nothing_is_ever_due():
    polling = Polling(None, None)
    assert polling.next_s is None
    assert polling.due(1e9) == []
