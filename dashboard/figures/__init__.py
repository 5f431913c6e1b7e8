"""Figures: pure functions from values to a plotly figure, drawn in daylight colours.

assets/bench.css repaints exactly the colours named in dashboard.marks for a dark screen.
"""
