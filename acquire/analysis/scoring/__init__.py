"""Results become points: by a scorecard, with the doubt that results have. Pure; any thread."""
