"""The compiled march: arrays in, arrays out. No strings, files or clocks in here."""
