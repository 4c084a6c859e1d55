"""The pure part: no clock, files, network, database or logging. Time is always an argument."""
