# Words of what was found as it stands: in the board, along its cables, at its RCDs. { $verdict } chooses the form:
# holds, fails, undecided.

## Circuits in a sentence

another-circuit = another circuit
circuits-then = { $before }, { $next }
circuits-and = { $before } and { $last }
