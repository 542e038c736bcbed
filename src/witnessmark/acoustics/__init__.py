"""What the room does to a pair where it stands: the arithmetic of ``sound`` put to a setup."""

from witnessmark.acoustics.figures import RoomSound, room_sound
from witnessmark.acoustics.scene import Scene
from witnessmark.acoustics.words import Passage, sound_words

__all__ = ["Passage", "RoomSound", "Scene", "room_sound", "sound_words"]
