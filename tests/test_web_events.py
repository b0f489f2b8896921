"""Truth: a listener knows how things stand, whenever it comes."""

import asyncio

from img2pour.web.events import Listeners


def heard(listeners: Listeners, standing: list[str], then: list[str]) -> list[str]:
    """Return the first two things that a listener is told, after `then` has come to pass."""

    async def listen() -> list[str]:
        stream = listeners.stream(lambda: [(name, {}) for name in standing])
        for name in then:
            standing[:] = [name]
            listeners.tell(name)
        told = [await anext(stream) for _ in range(2)]
        await stream.aclose()
        return [line.decode() for line in told]

    return asyncio.run(listen())


def test_work_that_ends_before_the_answer_begins_is_told_as_ended():
    told = heard(Listeners(), ["progress"], ["idle"])
    assert "event: idle" in told[1]


def test_a_listener_is_told_first_how_things_stand():
    told = heard(Listeners(), ["progress"], [])
    assert "event: progress" in told[1]


def test_who_leaves_is_told_nothing_more():
    listeners = Listeners()
    heard(listeners, ["idle"], [])
    assert len(listeners) == 0
