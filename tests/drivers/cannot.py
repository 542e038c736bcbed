"""What cannot happen on which transport, and why: all that the behaviour suite leaves out.

By the case, then by the kind of rig. Every case runs on every rig that is not named here.
"""

from __future__ import annotations

from types import MappingProxyType

_FILE = "a file is read as a whole before anything is reported, and a wrong line is refused then"
_FILE_ENDS = "a file ends, on which the link is closed; it is never silent and never comes back"
_KEYBOARD = "whoever owns the keyboard hands whole lines in, one by one"
_NO_WIRE = "there is no wire that could be cut or pulled out"
_WHOLE = "the session hands whole answers over, so that nothing is under way when it is unplugged"
_ANSWERS = "answers are handed over one by one, not as bytes"
_PACKET = "a notification is a whole value; a shorter one is the cut frame of another case"
_NO_REST = "a value is a whole notification, so that the rest of one is a cut frame itself"
_ONE_ANSWER = "a request has one answer; a longer one is no answer (test_modbus_driver)"
_ONE_VALUE = "a notification is one value; one of double length is no value (test_bluetooth_choice)"
_SHARED = "anybody may read a file, type, or have a simulated meter of their own"
_MANY_CLIENTS = "a port on the network takes as many connections as come"
_NO_OWNER = "nothing there belongs to another user"
_NETWORK = "a port on the network is open to all; what a firewall keeps away does not answer"

CANNOT = MappingProxyType(
    {
        "an_error_of_the_meter_is_a_fault_and_no_distance": {
            "typed": "a keyboard has no errors of its own; what is no length is garbage",
        },
        "garbage_is_told_and_never_a_distance": {"replay": _FILE},
        "silence_is_a_state_and_no_loss": {"replay": _FILE_ENDS},
        "a_frame_that_breaks_off_never_joins_the_next": {"replay": _FILE, "typed": _KEYBOARD},
        "the_late_rest_of_a_frame_is_no_distance": {
            "replay": _FILE,
            "typed": _KEYBOARD,
            "bluetooth described": _NO_REST,
            "bluetooth by profile": _NO_REST,
        },
        "two_frames_in_one_packet_are_both_read": {
            "replay": _FILE,
            "typed": _KEYBOARD,
            "sim": _ANSWERS,
            "modbus": _ONE_ANSWER,
            "bluetooth described": _ONE_VALUE,
            "serial text without line ends": "only a pause ends a line, so that two are one wrong",
        },
        "a_frame_may_come_byte_by_byte": {
            "replay": _FILE,
            "typed": _KEYBOARD,
            "sim": _ANSWERS,
            "bluetooth described": _PACKET,
            "bluetooth by profile": _PACKET,
        },
        "unplugging_in_mid_frame_loses_the_meter_and_makes_no_distance": {
            "replay": _NO_WIRE,
            "typed": _NO_WIRE,
            "sim": _WHOLE,
        },
        "an_unplugged_meter_is_lost": {"replay": _NO_WIRE, "typed": _NO_WIRE},
        "a_meter_that_is_not_there_is_told": {"typed": "the keyboard is always there"},
        "plugging_in_again_carries_on": {"replay": _FILE_ENDS, "typed": _NO_WIRE},
        "a_port_in_use_is_told": {
            "tcp text": _MANY_CLIENTS,
            "rfc2217 text": _MANY_CLIENTS,
            "tcp frames": _MANY_CLIENTS,
            "replay": _SHARED,
            "typed": _SHARED,
            "sim": _SHARED,
        },
        "what_is_not_permitted_is_told": {
            "tcp text": _NETWORK,
            "rfc2217 text": _NETWORK,
            "tcp frames": _NETWORK,
            "typed": _NO_OWNER,
            "sim": _NO_OWNER,
        },
    }
)
