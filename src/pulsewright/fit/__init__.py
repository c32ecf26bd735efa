"""The bridge: the model fitted to the pulls of one machine, with its doubt."""
