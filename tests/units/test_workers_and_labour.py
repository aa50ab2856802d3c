"""Work beside other work, and the times of the work."""

from __future__ import annotations

import math

import pytest

from fabplan import labour, workers


def test_here_does_the_work_at_once_and_hands_on_its_fault() -> None:
    hands = workers.Here()
    assert hands.start(math.sqrt, 9.0).result() == 3.0
    with pytest.raises(ValueError, match="domain"):
        hands.start(math.sqrt, -1.0).result()
    assert not workers.asked_to_stop()


@pytest.mark.processes
def test_a_process_of_its_own_gives_back_what_it_made() -> None:
    with workers.processes(1) as others:
        work = [others.start(math.factorial, n) for n in (3, 5)]
        assert [w.result() for w in work] == [6, 120]


def test_times_in_words() -> None:
    assert [labour.span(s) for s in (40, 150, 8280)] == ["40 s", "2.5 min", "2.3 h"]
    assert (
        labour.spans(labour.Labour(stroke=10.0, set_gauge=45.0), ("stroke", "set_gauge"))
        == "stroke 10 s, set_gauge 45 s"
    )


def test_heavy_metal_and_long_bends_take_longer_in_proportion() -> None:
    shop = labour.Labour(stroke=10.0, brake_stroke=12.0)
    assert shop.one_stroke(labour.LIGHT_POUNDS) == 10.0
    assert shop.one_stroke(2 * labour.LIGHT_POUNDS) == 20.0
    assert shop.one_bend(48.0) == 12.0
    assert shop.one_bend(96.0) == 24.0


def test_an_hour_has_a_default_worth_in_a_known_money_only() -> None:
    assert labour.default_rate("USD") == labour.KNOWN_RATE
    assert labour.default_rate("beans") is None


def test_every_time_is_spent_at_one_station() -> None:
    keys = [key for own in labour.STATIONS.values() for key in own]
    assert len(keys) == len(set(keys))
    assert all(isinstance(getattr(labour.Labour(), key), float) for key in keys)
