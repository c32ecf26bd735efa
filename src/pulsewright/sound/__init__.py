"""What the machine sounds like: from the flow at its open ends to levels, spectra and a sound to hear."""
