"""From raw spectrometer and radiometer files to a reasoned short list of light sources."""
