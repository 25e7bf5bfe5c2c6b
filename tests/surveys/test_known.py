"""What is found out once."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from railwright.surveys.known import Known


def test_whoever_asks_meanwhile_waits_for_the_one_who_seeks() -> None:
    known, sought = Known(), []

    def find() -> int:
        sought.append(1)
        time.sleep(0.05)
        return 7

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: known.once("seven", find), range(4)))
    assert found == [7, 7, 7, 7]
    assert sought == [1]


def test_what_is_sought_may_ask_for_other_things() -> None:
    known = Known()
    assert known.once("sum", lambda: known.once("one", lambda: 1) + 1) == 2


def test_what_failed_is_sought_again() -> None:
    known = Known()
    with pytest.raises(ZeroDivisionError):
        known.once("ratio", lambda: 1 / 0)
    assert known.once("ratio", lambda: 3) == 3
