"""Processor tables, part data, syntax habits and schemas, as package data."""
