"""The bundle and the small interpreter that a site's tablet runs."""
