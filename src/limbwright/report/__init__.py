"""Cut cards, cut lists and summaries."""
