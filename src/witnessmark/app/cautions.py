"""What can hurt somebody at this work."""

from witnessmark.layout.cautions import MOVING_CAUTION

LASER_CAUTION = (
    "Never look into the beam, point it at nobody, and mind mirrors, windows and glossy fronts: "
    "they throw it back. Heed the meter's own label and instructions."
)

__all__ = ["LASER_CAUTION", "MOVING_CAUTION"]
