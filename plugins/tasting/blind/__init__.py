"""Sheets of a blind flight with its codes, orders and key.

May import: pipeline.
Read: serving_orders, flights, command.
"""
