"""buzzout: what is really in the chassis, against what the drawing says."""
