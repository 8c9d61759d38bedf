"""What every room may use: errors, the column vocabulary, the study plan and the frozen result types.

Nothing here reads files, draws or fits models.
"""
