"""Meters on Bluetooth without a radio: a stand-in for the system's service, and one in memory."""
