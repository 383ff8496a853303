"""From a number of the results, a check or a wash back to bytes that came down a cable."""
