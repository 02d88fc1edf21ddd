"""Every state of random layouts against plain enumeration."""
