"""What can hurt somebody at this work."""

from witnessmark.layout.cautions import MOVING_CAUTION

LASER_CAUTION = (
    "Never look into the beam, point it at nobody, and mind mirrors, windows and glossy fronts: "
    "they throw it back. Heed the meter's own label and instructions."
)

DARK_CAUTION = (
    "In the dark cables trip and cabinets tip: clear the way to the cabinets first, and switch a "
    "light on before you move one."
)

__all__ = ["DARK_CAUTION", "LASER_CAUTION", "MOVING_CAUTION"]
