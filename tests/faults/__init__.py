"""Faults made on purpose: the real server killed, its database stopped, many writers at once."""
