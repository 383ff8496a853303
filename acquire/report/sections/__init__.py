"""What each part of the page shows, as frozen rows of finished texts for the templates."""
