"""A language server: what an editor holds, analysed while it is typed.

Nothing is imported here: `server` and `border` need pygls, which is optional.
"""
