"""Leastways: treatment planning, consent and cost estimate for small smile corrections."""
