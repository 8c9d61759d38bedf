"""The palette of figures and documents.

It tells things apart by hue, lightness and form at once and holds for the common kinds of colour blindness;
no colour stands for good or bad.
"""

from __future__ import annotations

INK, MUTED, GRID, PAPER = "#1f2b33", "#5b6a73", "#dde3e6", "#ffffff"
FIRST, SECOND, THIRD, FOURTH = "#1d5f8a", "#b8741a", "#6d4a87", "#4d5a61"
PALE, BAND = "#a9c7da", "#eef1f3"
