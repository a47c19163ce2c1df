# Words that every domain uses.

# Between whole numbers and tenths.
decimal-sign = {"."}

range-between = to
range-any-amount = any amount
range-nothing = nothing

not-known = not known

listed = { $before }, { $next }

# What a check rests on: a value alone, or with a word on where it comes from.
input-value = { $value }

# How a field is known, as the head of the column beside it.
table-known = { $field }: how known
