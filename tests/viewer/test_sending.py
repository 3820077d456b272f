"""What is sent to the screens of the browser, without one."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from viewer.sending import FOUND, STATE_TOPIC, Sending
from viewer.state import first_state


@pytest.mark.behaviour
def test_a_screen_that_has_its_first_scene_is_told_what_was_found_while_it_came():
    """A chart that was drawn between its first look at the state and its listening would never come otherwise."""
    told = []
    state = {**dict.fromkeys(FOUND), "chart": {"cells": ["a row"]}, "cells": ["an answer"]}
    protocol = SimpleNamespace(publish=lambda topic, what: told.append((topic, what)))
    viewer = SimpleNamespace(server=SimpleNamespace(protocol=protocol), state=state, pictures=list)
    Sending(viewer).again()
    assert told == [(STATE_TOPIC, state)]


@pytest.mark.behaviour
def test_all_that_is_told_again_is_part_of_the_state():
    design = SimpleNamespace(name="Skua", set_names=lambda: ("bare",))
    assert set(FOUND) <= set(first_state(design, starting=False))
