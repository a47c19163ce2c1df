# The interface's own words: headings, buttons, hints, what it says of what was done. An id begins with "ui-" and the
# screen or part.

## All screens

ui-try-again = Try again
