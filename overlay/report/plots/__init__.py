"""The plots of a report, as SVG: one file a kind."""
