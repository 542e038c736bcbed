"""What a position does to the sound."""

from witnessmark.sound.air import speed_of_sound_m_s
from witnessmark.sound.arrival import arrival_us, level_db, path_mm

__all__ = ["arrival_us", "level_db", "path_mm", "speed_of_sound_m_s"]
