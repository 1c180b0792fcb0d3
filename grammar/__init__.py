"""The lark grammars, as package data."""
