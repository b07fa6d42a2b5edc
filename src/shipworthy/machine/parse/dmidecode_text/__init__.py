"""Reports of dmidecode."""
