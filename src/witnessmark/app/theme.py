"""The app's own colours: light figures on a dark ground, each meaning also told by word or line."""

from textual.theme import Theme

DARK = Theme(
    name="witnessmark-dark",
    dark=True,
    background="#12161b",
    surface="#1b222a",
    panel="#232c36",
    boost="#2c3844",
    foreground="#e6e3dc",
    primary="#6aa9d8",
    secondary="#7d93a6",
    accent="#d9a441",
    warning="#e0b050",
    error="#ea7266",
    success="#7cc48a",
)
