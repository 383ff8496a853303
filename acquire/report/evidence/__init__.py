"""From the record of a trial to what the analysis takes, and to its results."""
