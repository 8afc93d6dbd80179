"""What the practitioner knows: the job file, its loading, and the catalog."""
