"""Facts of the trade, each marked as common practice."""
