"""Claims turned into language: the only sentences in the project."""
