"""What can hurt somebody: every caution that a screen, a sheet or a command shows."""

from __future__ import annotations

from typing import Final

LASER: Final = (
    "Never look into the beam or point it at anybody. Mirrors, windows and glossy fronts "
    "reflect it."
)
BEAM_ACROSS: Final = (
    "This beam crosses the room at the height of a seated person's eyes. Let nobody sit or "
    "stand in its way, and cover mirrors and glass behind."
)
"""For a shot that goes through the room, as a line among the details of the shot."""
MOVING: Final = (
    "A cabinet tips easily. Two people move it: amplifier off, leads slack or unplugged, floor "
    "clear, no children or animals in the room."
)
SPIKES: Final = (
    "Turning spikes unsettles a cabinet. One person steadies it while another turns each spike "
    "a little in turn, with no hand beneath it. Loosen lock nuts first and tighten them after. "
    "Leave as much thread in the base as the spike is thick."
)
LOUDNESS: Final = (
    "Listen at one moderate level, with pauses: a louder position only seems better. NIOSH's "
    "recommended limit at work is 85 dB(A) over 8 hours, half as long for each 3 dB more; it "
    "does not guarantee safety at home."
)
"""The limit is that of DHHS (NIOSH) Publication No. 98-126, Criteria for a Recommended Standard:
Occupational Noise Exposure (1998)."""
DARK: Final = (
    "In the dark, cables and tape are trip hazards and cabinets tip. Clear the way first, and "
    "switch a light on before you move a cabinet."
)
LOCAL_RULES: Final = "Local rules and the makers' instructions come first."
"""Before anything that this program says; for help and sheets."""
