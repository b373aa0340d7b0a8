"""The record of work: what was done to each hole, by whom and when.

`routes` is the table of operations and states, `events` what an entry holds, `state` what follows
from all entries, `plan` what a command may record, `ready` what can be done next. `store` opens a
record, reads it and appends to it; it and `database` are the only modules that know SQLite, and
`verify` is the check of the whole. Import what is needed from there: marking a row must not wait
for the rest.
"""
