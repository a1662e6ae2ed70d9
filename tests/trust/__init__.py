"""Trust: what the web side refuses, says and hides, whoever sends what."""
