"""The app's own colours, each meaning also told by word or line: with light, and with it off."""

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

DIM = Theme(
    name="witnessmark-dim",
    dark=True,
    background="#000000",
    surface="#000000",
    panel="#000000",
    boost="#160b02",
    foreground="#9a4f12",
    primary="#7a3d0c",
    secondary="#6a360c",
    accent="#b85f14",
    warning="#a85812",
    error="#c0501a",
    success="#9a5f14",
)
"""Deep orange on black, which spares eyes that are used to the dark; common practice, no source."""
