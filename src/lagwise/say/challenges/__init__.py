"""One module per challenge, by its name: its title, question and limits, and what is said of its claim."""
