"""The errors that reach a person, each carrying one clear sentence.

WitnessmarkError
 +-- BadInput       what was typed or filed is wrong: ``room.width: "12 ells" is not a length ...``
 |    +-- LengthError   the text is not a length
 +-- TooFewShots    the shots cannot fix a pose: ``left: one more shot to a side wall is needed``
 |    +-- TooFewDistances (in witnessmark.survey.survey) the distances cannot fix a room's corners
 +-- StoreError     what was measured cannot be kept or read: ``/mnt/x.db: the disk is full ...``
 |    +-- RecordRefused   (in witnessmark.store.records) this one record cannot be kept
 +-- MeterError     (in witnessmark.meters.port) a meter cannot be reached or was lost
"""


class WitnessmarkError(Exception):
    """Base of every error whose text is meant for the person at the program."""


class BadInput(WitnessmarkError, ValueError):
    """What was typed or filed is wrong; the text names where and says what would be right."""


class LengthError(BadInput):
    """A text is not a length; the text says why and how lengths are written."""


class TooFewShots(WitnessmarkError):
    """The shots at hand cannot fix a pose; the text says which are missing."""


class StoreError(WitnessmarkError):
    """What was measured cannot be kept or read back; the text says why and what to do."""
