"""What stands at the places of lines: numbers, words, dates, counts, signs, units. Pure."""
