"""The case series in words: its sections, figures' titles and captions, the page of one person."""
