"""Areas into toolpaths, each way timed."""
