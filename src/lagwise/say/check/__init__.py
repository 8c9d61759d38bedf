"""What is said of a caseload that is read and checked, by reason code."""
