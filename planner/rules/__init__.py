"""The ground floor: every figure a person sees is computed here, once.

Pure Python. No Django, no database, no clock (the caller passes ``today``), no randomness without a seed, no I/O but
the data files of this package. Millimetres are whole tenths, money is whole cents.
"""
