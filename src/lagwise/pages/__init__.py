"""Which parts make a report, a check page and a plan page, and what notebooks show of figures and people."""
