"""Elements that the page's parts have in common."""

from collections.abc import Callable
from typing import Any

from nicegui import ui


def button(words: str, act: Callable[..., Any]) -> ui.button:
    """A button that does something."""
    return ui.button(words, color=None, on_click=lambda _: act()).props("flat no-caps dense")
