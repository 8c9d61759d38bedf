"""Which parts make a report, a check page, a plan page, and what notebooks show of figures and of one person."""
