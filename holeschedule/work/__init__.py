"""Work on a build: drawings brought in, operations marked, what was done and what is next shown.

`opened` finds a build and opens its record, `intents` says what each hole needs, `bring_in` takes
drawings in, `marking` records work, `showing` puts status, next and history into words, `auditing`
audits the parts of a build. Import what is needed from there: marking must not wait for the rest.
"""
